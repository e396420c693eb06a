"""What is said of nights and entries."""

from rest_framework import serializers

from inspection.compute.asking import Area
from inventory.api.foundation.shapes import Key, Takes, Text


class RacesBy(Takes):
    race_class = Key(help_text="The class that races.")
    edition = Key(help_text="The published edition that it races by.")


class NightSaid(Takes):
    name = Text(max_length=80)
    date = serializers.DateField()
    place = Text(max_length=80, required=False, default="")
    list_closes_at = serializers.DateTimeField(
        required=False,
        allow_null=True,
        default=None,
        help_text="Until when members enter their own cars; null: until it closes.",
    )
    classes = serializers.ListField(child=RacesBy(), min_length=1, max_length=50)


class CalledFirst(Takes):
    race_class = Key(allow_null=True, help_text="Null: all in the order of time.")


class EntrySaid(Takes):
    car = Text(max_length=12, help_text="Its tag.")
    race_class = Key()
    driver = Key(
        required=False, allow_null=True, default=None, help_text="Null: who has it."
    )
    number = Text(
        max_length=8, required=False, default="", help_text="Empty: the usual one."
    )


class OwnEntrySaid(Takes):
    car = Text(max_length=12, help_text="Its tag.")
    race_class = Key()
    number = Text(max_length=8, required=False, default="")


class OntoBlock(Takes):
    block = Key(required=False, allow_null=True, default=None)
    changed = serializers.ListField(
        child=serializers.ChoiceField([area.value for area in Area]),
        required=False,
        default=list,
        max_length=20,
        help_text="What was changed since it was last measured is measured again.",
    )
    paper_at = serializers.DateTimeField(
        required=False,
        allow_null=True,
        default=None,
        help_text="When it was measured that is typed in from paper.",
    )


class Reason(Takes):
    reason = Text(max_length=200)


class Reopening(Takes):
    reason = Text(max_length=200)
    stands = serializers.ListField(
        child=Text(max_length=44),
        required=False,
        default=list,
        max_length=200,
        help_text="The columns of the last sheet that stand as they were read.",
    )
