"""What is told of nights and entries."""

from typing import Any

from rest_framework import serializers

from inspection.compute.night import EntryState
from inventory.api.foundation.rows import NamedRow, Who
from inventory.api.foundation.shapes import Gives, Said, Word


class ClassOfNight(Gives):
    race_class = NamedRow()
    edition = NamedRow()


class Night(Gives):
    id = serializers.IntegerField(source="pk")
    name = Said()
    date = serializers.DateField()
    place = Said()
    state = serializers.SerializerMethodField(help_text="planned, open or closed.")
    opened_at = serializers.DateTimeField(allow_null=True)
    closed_at = serializers.DateTimeField(allow_null=True)
    list_closes_at = serializers.DateTimeField(allow_null=True)
    called_first = NamedRow(allow_null=True)
    classes = ClassOfNight(many=True, source="classes.all")

    def get_state(self, night: Any) -> str:
        if night.closed_at is not None:
            return "closed"
        return "planned" if night.opened_at is None else "open"


class CarOfEntry(Gives):
    tag = Said()
    name = Said()


class EntryLine(Gives):
    """An entry as the board shows it."""

    id = serializers.IntegerField(source="entry.pk")
    night = serializers.IntegerField(source="entry.night_id")
    number = Said(source="entry.number")
    car = CarOfEntry(source="entry.car")
    race_class = NamedRow(source="entry.race_class")
    driver = Who(source="entry.driver")
    state = Word(EntryState, source="entry.state")
    state_since = serializers.DateTimeField(source="entry.state_since")
    is_late = serializers.BooleanField(source="entry.is_late")
    sheet = Said(source="sheet_number", help_text="The number of its last sheet.")
    waits_minutes = serializers.IntegerField()
    reason = Said(help_text="Of its last move.")
    calls = serializers.IntegerField(help_text="How often it was called in vain.")
    protests = serializers.IntegerField(help_text="Protests that are open.")
    in_doubt = serializers.ListField(child=Said(), help_text="Gauges that failed.")
    is_held = serializers.BooleanField()
    is_checked_after = serializers.BooleanField()
    is_changed_since = serializers.BooleanField()


class SheetStarted(Gives):
    """The sheet of a car that has just been put on the block."""

    number = Said()
    stage = Said()
    started_at = serializers.DateTimeField()


class BlockShown(Gives):
    id = serializers.IntegerField(source="pk")
    name = Said()
    measured_by = Who(allow_null=True)


class ClassShown(Gives):
    id = serializers.IntegerField(source="pk")
    name = Said()
    rulebook = NamedRow()
