"""What is told of gauges."""

from typing import Any

from rest_framework import serializers

from inventory.api.foundation.rows import Who
from inventory.api.foundation.shapes import Figure, Gives, Millionths, Said, Word
from inventory.compute.measuring import (
    CheckKind,
    CheckResult,
    GaugeStanding,
    Instrument,
)
from inventory.compute.measuring import GaugeMode as Mode


class GaugeShown(Gives):
    """A gauge in one mode, and whether it may be used now."""

    id = serializers.IntegerField(source="mode.pk", help_text="Of the mode.")
    gauge = serializers.IntegerField(source="mode.gauge_id")
    name = Said(source="mode.gauge.name")
    instrument = Word(Instrument, source="mode.gauge.instrument")
    mode = Word(Mode, source="mode.mode")
    unit = Said(source="mode.unit")
    resolution = Millionths(source="mode.resolution")
    max_permissible_error = Millionths(source="mode.max_permissible_error")
    repeatability = Millionths(source="mode.repeatability")
    standing = Word(GaugeStanding)
    may_be_used = serializers.SerializerMethodField()
    due_at = serializers.DateTimeField(allow_null=True)

    def get_may_be_used(self, loaded: Any) -> bool:
        return not loaded.is_barred


class CheckShown(Gives):
    id = serializers.IntegerField(source="pk")
    kind = Word(CheckKind)
    result = Word(CheckResult)
    master = Millionths()
    bias = Millionths()
    taken_at = serializers.DateTimeField()
    by = Who()
    note = Said()


class StudyShown(Gives):
    """A gauge study, worked out; in the mode's unit."""

    ev = Figure(help_text="Repeatability, as a standard deviation.")
    av = Figure(help_text="Reproducibility.")
    grr = Figure(help_text="Both together.")
    pv = Figure(help_text="The parts' own variation.")
    tv = Figure(help_text="In all.")
