"""What is said of cars."""

from rest_framework import serializers

from inspection.compute.night import Axle
from inspection.compute.quantities import FrontCarrier, Layout
from inventory.api.foundation.shapes import Key, Takes, Text, Word


class CarSaid(Takes):
    number = Text(max_length=8, help_text="The one it usually races with.")
    name = Text(max_length=60)
    race_class = Key()
    layout = Word(Layout)
    front_carrier = Word(FrontCarrier)


class HandsSaid(Takes):
    person = Key()


class SizesSaid(Takes):
    values = serializers.DictField(
        child=Text(max_length=40),
        required=False,
        default=dict,
        help_text="Its own sizes by column, as they are typed.",
    )
    room = serializers.DictField(
        child=Text(max_length=40),
        required=False,
        default=dict,
        help_text="Its room for parts by size, as it is typed.",
    )
    gauge = Key(
        required=False,
        allow_null=True,
        default=None,
        help_text="A gauge's mode; null: declared, not measured.",
    )
    confirmed = serializers.BooleanField(required=False, default=False)


class PutOnSaid(Takes):
    part = Text(max_length=12, help_text="Its tag.")
    since = serializers.DateTimeField(required=False, allow_null=True, default=None)
    confirmed = serializers.BooleanField(
        required=False,
        default=False,
        help_text="A gear that cannot drive the car (`cannot_drive`) is meant so.",
    )


class PairOnSaid(Takes):
    pair = Text(max_length=12, help_text="Its tag; the smaller tyre goes left.")
    axle = Word(Axle)
    since = serializers.DateTimeField(required=False, allow_null=True, default=None)


class AxleSaid(Takes):
    axle = Word(Axle)


class TypedJig(Takes):
    typed = serializers.DictField(
        child=Text(max_length=400), help_text="As it is asked of the jig sheet."
    )
