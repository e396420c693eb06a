"""What a box is told."""

from typing import Any

from rest_framework import serializers

from inspection.loaders.block.steps import StepKind
from inventory.api.foundation.rows import Who
from inventory.api.foundation.shapes import Gives, Said, Word


class AskedOfBox(Gives):
    column = Said()
    label = Said()  # type: ignore[assignment]
    kind = Word(StepKind)
    unit = Said(source="quantity.unit.value")


class BoxTold(Gives):
    """Where the box reads, for whom, and what is asked."""

    box = Said(source="box.name")
    block = Said(source="box.block.name")
    by = Who(source="box.put_by")
    gauge = Said(source="box.gauge_mode")
    sheet = serializers.SerializerMethodField(help_text="Empty: no car stands there.")
    car = serializers.SerializerMethodField()
    next = AskedOfBox(
        allow_null=True, help_text="What the page asks next, for the box or not."
    )
    steps = AskedOfBox(many=True, help_text="What is asked that the box can read.")

    def get_sheet(self, now: Any) -> str:
        return now.sheet.number if now.sheet else ""

    def get_car(self, now: Any) -> str:
        return now.sheet.entry.called if now.sheet else ""
