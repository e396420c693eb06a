"""What is said of batches and pairs."""

from rest_framework import serializers

from inventory.api.foundation.shapes import Key, Takes, Text, Word
from inventory.compute.pairing import GroupBy, PairingWay
from inventory.compute.stock import PartKind
from inventory.forms.pairing import DEFAULTS

_AMOUNT = {"max_length": 20, "required": False, "default": ""}


class PairsAsked(Takes):
    """How a bag is to be paired; lengths as they are typed, in millimetres."""

    way = Word(PairingWay, required=False, default=PairingWay.PAIRS.value)
    tolerance = Text(max_length=20, required=False, default=DEFAULTS["tolerance"])
    stagger = Text(max_length=20, required=False, default=DEFAULTS["stagger"])
    group_by = Word(
        GroupBy, required=False, default="", help_text="Only with its like in this."
    )
    out_of_round = Text(**_AMOUNT)
    taper = Text(**_AMOUNT)
    reading_count = serializers.IntegerField(
        min_value=1, max_value=99, required=False, default=1
    )


class ConfirmSaid(PairsAsked):
    seen = Text(max_length=64, help_text="As the pairs that were looked at said it.")
    drawer = Text(max_length=40, required=False, default="")
    per_drawer = serializers.IntegerField(
        min_value=1, max_value=10_000, required=False, allow_null=True, default=None
    )


class DraftSaid(Takes):
    file = serializers.FileField(help_text="CSV, XLSX or another table.")
    name = Text(max_length=60, required=False, default="")
    kind = Word(PartKind, required=False, default="")


class TakeSaid(Takes):
    leave_out = serializers.IntegerField(
        min_value=0,
        max_value=200_000,
        required=False,
        default=0,
        help_text="How many wrong rows are left out; as many as there are.",
    )
    is_another = serializers.BooleanField(
        required=False, default=False, help_text="Another bag of the same sizes."
    )


class SplitSaid(Takes):
    reason = Text(max_length=120)


class PairOutSaid(Takes):
    person = Key()
    note = Text(max_length=200, required=False, default="")
