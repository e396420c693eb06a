"""What is told of a sheet."""

from typing import Any

from rest_framework import serializers

from inspection.compute.judging import Outcome
from inspection.compute.night import Decision, ReadingKind, SheetState
from inspection.compute.rulebooks import Stage
from inspection.loaders.block.readings import is_struck
from inspection.loaders.block.steps import StepGroup, StepKind
from inventory.api.foundation.rows import NamedRow, Who
from inventory.api.foundation.shapes import Figure, Gives, Millionths, Said, Word


class CarOfSheet(Gives):
    tag = Said()
    name = Said()


class SheetLine(Gives):
    number = Said()
    entry = serializers.IntegerField(source="entry_id")
    night = NamedRow(source="entry.night")
    car = CarOfSheet(source="entry.car")
    car_number = Said(source="entry.number")
    race_class = NamedRow(source="entry.race_class")
    stage = Word(Stage)
    state = Word(SheetState)
    block = NamedRow(allow_null=True)
    started_at = serializers.DateTimeField()
    started_by = Who()
    decision = serializers.SerializerMethodField(help_text="Empty until it is sealed.")
    sealed_at = serializers.SerializerMethodField()

    def get_decision(self, sheet: Any) -> str:
        return sheet.seal.decision.value if sheet.is_sealed else ""

    def get_sealed_at(self, sheet: Any) -> str | None:
        return sheet.seal.sealed_at.isoformat() if sheet.is_sealed else None


class ReadingShown(Gives):
    id = serializers.IntegerField(source="pk")
    reading_id = serializers.UUIDField()
    column = Said()
    kind = Word(ReadingKind)
    value = Millionths()
    low = Millionths()
    high = Millionths()
    answer = Said()
    text = Said()
    gauge = serializers.IntegerField(source="gauge_mode_id", allow_null=True)
    by = Who()
    taken_at = serializers.DateTimeField()
    received_at = serializers.DateTimeField()
    clock_said = Said(
        help_text="What the device's clock said, where that cannot be; else empty."
    )
    is_struck = serializers.SerializerMethodField()
    is_carried = serializers.SerializerMethodField()

    def get_is_struck(self, reading: Any) -> bool:
        return is_struck(reading)

    def get_is_carried(self, reading: Any) -> bool:
        return reading.carried_from_id is not None


class StepShown(Gives):
    """One thing to read on the car."""

    column = Said()
    label = Said()  # type: ignore[assignment]
    kind = Word(StepKind)
    group = Word(StepGroup)
    unit = Said(source="quantity.unit.value")
    is_asked = serializers.BooleanField()
    is_done = serializers.BooleanField()
    value = Said(source="text", help_text="What counts now, as it is shown.")
    limit = Said(source="limit_text", help_text="The limit slip; empty: none.")
    gauges = serializers.SerializerMethodField(
        help_text="The gauges that can take it, the usual one first; for a protest "
        "none that read it before, where another can."
    )
    gauges_note = serializers.SerializerMethodField(
        help_text="Of a protest's sheet: which gauge is not among them because it read "
        "this before, or is for want of another. Else empty."
    )

    def get_gauges(self, step: Any) -> list[int]:
        return [one.mode.pk for one in step.gauges]

    def get_gauges_note(self, step: Any) -> str:
        sentences = (step.not_again_words, step.for_want_words)
        return " ".join(filter(None, sentences))


class FindingShown(Gives):
    """What one rule says of the car, in the unit of its quantity."""

    rule = Said(source="rule.number")
    sentence = Said(source="rule.sentence")
    quantity = Said(source="rule.quantity.key")
    lower = Figure()
    upper = Figure()
    outcome = Word(Outcome)
    is_admitted = serializers.BooleanField()
    is_mandatory = serializers.BooleanField(source="rule.is_mandatory")
    value = Figure()
    u_value = Figure()
    margin = Figure()
    guard_band = Figure()
    probability = Figure()


class DoubtShown(Gives):
    check = serializers.IntegerField(source="check_id")
    gauge = Said()
    failed_at = serializers.DateTimeField()
    columns = serializers.ListField(child=Said(), source="labels")


class NoteShown(Gives):
    id = serializers.IntegerField(source="pk")
    text = Said()
    by = Who()
    at = serializers.DateTimeField()


class SheetShown(Gives):
    """A sheet as it stands."""

    sheet = SheetLine(source="loaded.sheet")
    edition = Said(source="loaded.edition.name")
    next = serializers.SerializerMethodField(
        help_text="The column that is asked next; empty: nothing is."
    )
    steps = StepShown(many=True)
    readings = ReadingShown(many=True, source="loaded.readings")
    findings = FindingShown(many=True, source="loaded.findings")
    may_pass = serializers.BooleanField(source="loaded.may_pass")
    may_be_sent_back = serializers.BooleanField(source="loaded.may_be_sent_back")
    unread = serializers.ListField(child=Said(), source="loaded.unread")
    conflicts = serializers.SerializerMethodField(
        help_text="Columns of which two sets of readings disagree."
    )
    doubts = DoubtShown(many=True, source="loaded.doubts")
    notes = NoteShown(many=True)
    reason = Said(source="loaded.reason")

    def get_next(self, shown: Any) -> str:
        return shown["next"].column if shown["next"] else ""

    def get_conflicts(self, shown: Any) -> list[str]:
        return [value.column for value in shown["loaded"].conflicts]


class ReadingTaken(Gives):
    """A reading that is on the sheet, and what is asked next."""

    reading = ReadingShown()
    warning = Said(help_text="Of its gauge; empty: none.")
    next = Said()


class Struck(Gives):
    reading = serializers.IntegerField(source="reading_id")
    reason = Said()
    by = Who()
    at = serializers.DateTimeField()


class SealPut(Gives):
    sheet = Said(source="sheet.number")
    decision = Word(Decision)
    sequence = serializers.IntegerField()
    sha256 = Said()
    sealed_at = serializers.DateTimeField()
    sealed_by = Who()


class RulingGiven(Gives):
    sheet = Said(source="sheet.number")
    ruling = Said()
    reason = Said()
    by = Who()
    by_sealer = serializers.BooleanField(
        source="is_by_sealer", help_text="Who ruled had sealed the sheet as well."
    )
    at = serializers.DateTimeField()


class PartOfRemedy(Gives):
    position = serializers.SerializerMethodField()
    tag = serializers.SerializerMethodField()

    def get_position(self, one: Any) -> str:
        return str(one[0])

    def get_tag(self, one: Any) -> str:
        return str(one[1].tag)


class CuredShown(Gives):
    rule = Said(source="rule.number")
    outcome = Word(Outcome)
    margin = Figure()


class RemedyShown(Gives):
    """Parts that would make the car legal."""

    parts = PartOfRemedy(many=True)
    rollout_mm = Figure()
    change_percent = Figure()
    cures = CuredShown(many=True, source="cured")
    fit_checked = serializers.BooleanField()


class WorkShown(Gives):
    sentence = Said()
    makes_legal = serializers.BooleanField()


class RemediesShown(Gives):
    refused = serializers.ListField(child=Said(), help_text="Rules, by their number.")
    count = serializers.IntegerField()
    parts = RemedyShown(many=True)
    work = WorkShown(many=True)
    wishes = WorkShown(many=True)


class HandedOut(Gives):
    tags = serializers.ListField(child=Said())
