"""What is said of rulebooks."""

from rest_framework import serializers

from inspection.compute.rulebooks import Stage
from inventory.api.foundation.shapes import Key, Takes, Word


class ImportSaid(Takes):
    rulebook = serializers.JSONField(
        help_text="A rulebook's file, as its JSON Schema says."
    )
    adds_classes = serializers.BooleanField(
        required=False, default=False, help_text="Add the classes that are lacking."
    )


class PublishSaid(Takes):
    nights = serializers.ListField(
        child=Key(),
        required=False,
        default=list,
        max_length=50,
        help_text="Nights that race by it at once.",
    )


class TrialAsked(Takes):
    stage = Word(Stage, required=False, default=Stage.BEFORE.value)
    since = serializers.DateField(required=False, default=None)
    race_class = Key(required=False, default=None)
