"""What is told of a season."""

from rest_framework import serializers

from inventory.api.foundation.shapes import Figure, Gives, Said, Takes


class SeasonAsked(Takes):
    start = serializers.DateField(required=False, default=None)
    end = serializers.DateField(required=False, default=None)


class PassedShown(Gives):
    admitted = serializers.IntegerField()
    judged = serializers.IntegerField()


class RuleOfSeason(Gives):
    id = serializers.IntegerField(source="rule.pk")
    number = Said(source="rule.number")
    quantity = Said(source="rule.quantity")
    passed = PassedShown()
    by_class = PassedShown(many=True, help_text="In the order of the classes.")


class MarginsOfNight(Gives):
    """Margins of one class on one night under one rule, in the rule's unit."""

    rule = serializers.IntegerField()
    date = serializers.DateField()
    night = Said()
    class_name = Said()
    count = serializers.IntegerField()
    median = Figure()
    least = Figure()


class WearShown(Gives):
    """What tyres of one compound lost a night, mm off the diameter."""

    compound = Said()
    tyres = serializers.IntegerField()
    nights = serializers.IntegerField()
    median = Figure()
    least = Figure()
    most = Figure()


class Season(Gives):
    start = serializers.DateField(source="period.start")
    end = serializers.DateField(source="period.end")
    classes = serializers.ListField(child=Said(), source="rates.classes")
    cars = PassedShown(many=True, source="rates.cars")
    rules = RuleOfSeason(many=True, source="rates.rules")
    margins = MarginsOfNight(many=True)
    wear = WearShown(many=True)
