"""What is told of rulebooks."""

from typing import Any

from rest_framework import serializers

from inspection.compute.judging import DecisionRule
from inspection.compute.rulebooks import CarFound
from inventory.api.foundation.rows import NamedRow
from inventory.api.foundation.shapes import Figure, Gives, Said, Word


class EditionLine(Gives):
    id = serializers.IntegerField(source="pk")
    number = serializers.IntegerField()
    decision_rule = Word(DecisionRule)
    published_at = serializers.DateTimeField(allow_null=True)
    sha256 = Said(help_text="Empty: a draft.")


class RulebookShown(Gives):
    id = serializers.IntegerField(source="rulebook.pk")
    name = Said(source="rulebook.name")
    classes = NamedRow(many=True)
    editions = EditionLine(many=True)


class EditionShown(Gives):
    """An edition: its file, and what cannot be meant in it."""

    edition = EditionLine()
    rulebook = serializers.JSONField(help_text="Its canonical file.")
    sha256 = Said(help_text="Of that file.")
    contradictions = serializers.ListField(child=Said())


class TriedRuleShown(Gives):
    rule = Said(source="rule.number")
    admitted = serializers.IntegerField()
    refused = serializers.IntegerField()
    not_measured = serializers.IntegerField()
    newly_refused = serializers.IntegerField()
    newly_admitted = serializers.IntegerField()
    least_margin = Figure()


class TrialShown(Gives):
    """An edition on every car's last sealed sheet, beside the one in force."""

    cars = serializers.IntegerField()
    rules = TriedRuleShown(many=True)
    changes = serializers.SerializerMethodField()

    def get_changes(self, trial: Any) -> list[dict[str, Any]]:
        return [
            {"before": before, "after": after, "cars": trial.counts[before, after]}
            for before in CarFound
            for after in CarFound
            if trial.counts[before, after]
        ]
