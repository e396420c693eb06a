"""What is told of parts."""

from typing import Any

from rest_framework import serializers

from inventory.api.foundation.rows import Who
from inventory.api.foundation.shapes import Gives, Millionths, Said, Word
from inventory.compute.numbers import from_millionths
from inventory.compute.stock import (
    KINDS,
    PART_SCALES,
    Move,
    PartKind,
    PartQuantity,
    PartState,
    Section,
)


class PartLine(Gives):
    tag = Said()
    kind = Word(PartKind)
    state = Word(PartState)
    name = Said()
    drawer = Said()
    facts = serializers.SerializerMethodField(help_text="By name, as its kind has.")
    size = serializers.SerializerMethodField(
        help_text="The size that it is known by; null: it was not measured."
    )
    unit = serializers.SerializerMethodField()
    owner = Who(allow_null=True, help_text="Null: the club.")
    holder = Who(allow_null=True)
    is_shared = serializers.BooleanField()
    received_at = serializers.DateTimeField()

    def get_facts(self, part: Any) -> dict[str, Any]:
        facts = getattr(part, part.kind)
        names = (fact.name for fact in KINDS[part.kind].fact_list)
        return {name: getattr(facts, name) for name in names}

    def get_size(self, part: Any) -> float | None:
        size = vars(part).get("size")
        return None if size is None else from_millionths(size)

    def get_unit(self, part: Any) -> str:
        return KINDS[part.kind].main.unit.value


class PartReadingShown(Gives):
    id = serializers.IntegerField(source="pk")
    value = Millionths()
    text = Said()
    section = Word(Section)
    is_struck = serializers.SerializerMethodField()

    def get_is_struck(self, reading: Any) -> bool:
        return hasattr(reading, "strike")


class EstimateShown(Gives):
    """What one set of readings says of one quantity."""

    quantity = Word(PartQuantity)
    unit = serializers.SerializerMethodField()
    value = Millionths()
    random = Millionths(help_text="Standard uncertainty of its own.")
    systematic = Millionths(help_text="What readings by one gauge share.")
    count = serializers.IntegerField()
    gauge = serializers.IntegerField(source="gauge_mode_id", allow_null=True)
    taken_at = serializers.DateTimeField()
    by = Who()
    readings = PartReadingShown(many=True, source="readings.all")

    def get_unit(self, estimate: Any) -> str:
        return PART_SCALES[estimate.quantity].unit.value


class MoveShown(Gives):
    move = Word(Move)
    at = serializers.DateTimeField()
    by = Who()
    to_person = Who(allow_null=True)
    note = Said()


class PartShown(Gives):
    """A part with its sizes now, and its last moves."""

    part = PartLine()
    version = serializers.IntegerField(source="part.version")
    estimates = EstimateShown(many=True)
    moves = MoveShown(many=True)


class PartsMade(Gives):
    tags = serializers.ListField(child=Said())


class EstimateMade(Gives):
    quantity = Word(PartQuantity)
    value = Millionths()
    random = Millionths()
    systematic = Millionths()
    count = serializers.IntegerField()
