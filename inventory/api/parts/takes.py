"""What is said of parts."""

from rest_framework import serializers

from inventory.api.foundation.shapes import Key, Takes, Text, Word
from inventory.compute.stock import PartKind, PartQuantity, PartState

_GAUGE = "A gauge's mode; 0: nobody knows with what it was read."


class SearchSaid(Takes):
    q = Text(max_length=60, required=False, default="", help_text="Any printed word.")
    kind = Word(PartKind, required=False, default="")
    state = Word(PartState, required=False, default="")
    drawer = Text(max_length=40, required=False, default="")
    compound = Text(max_length=30, required=False, default="")
    pitch = Text(max_length=20, required=False, default="")
    teeth = Key(required=False, default=None)
    mine = serializers.BooleanField(required=False, default=False)


class NewPartSaid(Takes):
    kind = Word(PartKind)
    name = Text(max_length=80, required=False, default="")
    drawer = Text(max_length=40, required=False, default="")
    tag = Text(max_length=12, required=False, default="")
    count = serializers.IntegerField(
        min_value=1, max_value=100, required=False, default=1
    )
    facts = serializers.DictField(
        child=Text(max_length=80),
        required=False,
        default=dict,
        help_text="By name, as they are typed: compound, teeth, pitch_name …",
    )
    sizes = serializers.DictField(
        child=serializers.ListField(child=Text(max_length=40), max_length=20),
        required=False,
        default=dict,
        help_text="Readings by quantity, as they are typed.",
    )
    gauge = serializers.IntegerField(
        min_value=0,
        max_value=10**15,
        required=False,
        allow_null=True,
        default=None,
        help_text=_GAUGE,
    )
    confirmed = serializers.BooleanField(required=False, default=False)


class OwnPartSaid(NewPartSaid):
    shared = serializers.BooleanField(required=False, default=False)


class MeasuredSaid(Takes):
    quantity = Word(PartQuantity)
    texts = serializers.ListField(
        child=Text(max_length=40), min_length=1, max_length=50
    )
    gauge = serializers.IntegerField(min_value=0, max_value=10**15, help_text=_GAUGE)
    confirmed = serializers.BooleanField(required=False, default=False)


class HandedOutSaid(Takes):
    person = Key()
    note = Text(max_length=200, required=False, default="")


class PartNoteSaid(Takes):
    note = Text(max_length=200, required=False, default="")


class WhySaid(Takes):
    reason = Text(max_length=200)


class SharedSaid(Takes):
    shared = serializers.BooleanField()


class CorrectedSaid(Takes):
    name = Text(max_length=80, required=False, default="")
    drawer = Text(max_length=40, required=False, default="")
    facts = serializers.DictField(
        child=Text(max_length=80), required=False, default=dict
    )
    reason = Text(max_length=200, required=False, default="")


class StruckSaid(Takes):
    reading = Key()
    reason = Text(max_length=200)
