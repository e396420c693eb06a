"""What is told of the fit."""

from typing import Any

from rest_framework import serializers

from inspection.compute.fit import CheckState
from inspection.loaders.fit.stock import FitKind, Standing
from inspection.words.jig import build_words, set_up_words
from inventory.api.foundation.shapes import Figure, Gives, Said, Word


class CheckSaid(Gives):
    check = serializers.SerializerMethodField()
    state = Word(CheckState, source="row.state")
    value = Figure(source="row.value")
    unit = Said(source="row.unit")
    words = Said(source="plain")

    def get_check(self, line: Any) -> str:
        return str(line.row.check)


class FitLineShown(Gives):
    tags = serializers.SerializerMethodField()
    standing = Word(Standing)
    ratio = Figure()
    rollout_mm = Figure()
    change_percent = Figure()
    checks = CheckSaid(many=True)

    def get_tags(self, line: Any) -> list[str]:
        return [part.tag for part in line.parts]


class FitShown(Gives):
    """The stock against a car, best first; the first twenty with every check."""

    kind = Word(FitKind)
    fits = serializers.IntegerField()
    not_known = serializers.IntegerField()
    does_not = serializers.IntegerField()
    lines = FitLineShown(many=True)


class CarTaking(Gives):
    car = Said(source="car.tag")
    number = Said(source="car.number")
    standing = Word(Standing)
    ratio = Figure()
    rollout_mm = Figure()
    change_percent = Figure()
    checks = CheckSaid(many=True)


class PitchShown(Gives):
    name = Said()
    percent = Figure()
    outside_diameter_mm = Figure()


class UnmarkedShown(Gives):
    """What an unmarked gear may be, and which of the stock it may be."""

    pitches = PitchShown(many=True)
    u_mm = Figure()
    parts_like = serializers.ListField(child=Said())
    cars = CarTaking(many=True)


class BuildCheckShown(Gives):
    check = serializers.SerializerMethodField()
    value = Figure()
    u = Figure()
    sentence = serializers.SerializerMethodField()

    def get_check(self, row: Any) -> str:
        return str(row.check)

    def get_sentence(self, row: Any) -> str:
        return build_words(row)


class JigShown(Gives):
    """A jig sheet: what to set up, and what was found after soldering."""

    spacer_mm = Figure(source="sheet.spacer_mm")
    axle_height_mm = Figure(source="sheet.axle_height_mm")
    shaft_height_mm = Figure(source="sheet.shaft_height_mm")
    rear_clearance_mm = Figure(source="sheet.rear_clearance_mm")
    largest_gear_mm = serializers.SerializerMethodField()
    advice = serializers.SerializerMethodField()
    checks = BuildCheckShown(many=True)

    def get_advice(self, shown: Any) -> list[str]:
        return list(set_up_words(shown["sheet"]))

    def get_largest_gear_mm(self, shown: Any) -> float | None:
        gear = shown["sheet"].largest_gear
        return gear.outside_diameter_mm if gear else None
