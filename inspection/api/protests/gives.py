"""What is told of a protest."""

from typing import Any

from rest_framework import serializers

from inventory.api.foundation.rows import NamedRow, Who
from inventory.api.foundation.shapes import Gives, Said


class RuleOfProtest(Gives):
    id = serializers.IntegerField(source="pk")
    number = Said()
    sentence = Said()


class Ruled(Gives):
    ruling = Said()
    reason = Said()
    by = Who()
    at = serializers.DateTimeField()


class ProtestLine(Gives):
    id = serializers.IntegerField(source="pk")
    night = NamedRow(source="entry.night")
    entry = serializers.IntegerField(source="entry_id")
    car_number = Said(source="entry.number")
    sheet = serializers.SerializerMethodField(help_text="Empty: it had none.")
    rule = RuleOfProtest()
    claim = Said()
    by = Who()
    at = serializers.DateTimeField()
    appeal_of = serializers.IntegerField(source="appeal_of_id", allow_null=True)
    ruled = Ruled(allow_null=True)

    def get_sheet(self, protest: Any) -> str:
        return protest.sheet.number if protest.sheet else ""


class ProtestShown(Gives):
    """A protest, who hears it, and on which sheets it was measured again."""

    protest = ProtestLine()
    hearer = Who(allow_null=True)
    measured = serializers.ListField(child=Said())
    may_hear = serializers.BooleanField(help_text="Whether whoever asks hears it.")


class MeasuredAgain(Gives):
    number = Said()
    stage = Said()
