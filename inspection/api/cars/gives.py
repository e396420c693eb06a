"""What is told of cars."""

from typing import Any

from rest_framework import serializers

from inspection.compute.night import PartPosition
from inspection.compute.quantities import FrontCarrier, Layout, Source
from inventory.api.foundation.rows import NamedRow, Who
from inventory.api.foundation.shapes import Figure, Gives, Said, Word


class CarLine(Gives):
    tag = Said()
    number = Said()
    name = Said()
    owner = Who()
    lent_to = Who(allow_null=True)
    race_class = NamedRow()
    layout = Word(Layout)
    front_carrier = Word(FrontCarrier)
    changed_at = serializers.DateTimeField()
    retired_at = serializers.DateTimeField(allow_null=True)


class ValueShown(Gives):
    column = Said()
    label = Said()  # type: ignore[assignment]
    value = Figure()
    u_value = serializers.SerializerMethodField(help_text="Standard uncertainty.")
    unit = Said(source="quantity.unit.value")
    text = Said()
    source = serializers.SerializerMethodField()  # type: ignore[assignment]
    is_declared = serializers.BooleanField(source="is_only_declared")

    def get_u_value(self, value: Any) -> float:
        return float((value.random**2 + value.systematic**2) ** 0.5)

    def get_source(self, value: Any) -> str:
        return Source(value.source).value


class PlaceShown(Gives):
    position = Word(PartPosition)
    tag = serializers.SerializerMethodField(help_text="Empty: nothing of the stock.")
    size = Said()

    def get_tag(self, place: Any) -> str:
        return place.part.tag if place.part else ""


class CarShown(Gives):
    """A car with what sits on it and its stored sizes."""

    car = CarLine()
    is_confirmed = serializers.BooleanField(
        help_text="Whether somebody who measures for the club has looked at its "
        "layout and at what carries its front."
    )
    places = PlaceShown(many=True)
    geometry = ValueShown(many=True)


class SizesStored(Gives):
    stored = serializers.IntegerField()
