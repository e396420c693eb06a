"""What the feed takes and gives."""

from rest_framework import serializers

from inventory.api.foundation.shapes import Gives, Said, Takes


class ChangesAsked(Takes):
    since = serializers.IntegerField(
        min_value=0,
        max_value=10**15,
        required=False,
        default=0,
        help_text="The cursor of the answer before; 0: from the beginning.",
    )


class ChangeShown(Gives):
    number = serializers.IntegerField()
    at = serializers.DateTimeField(source="row.at")
    event = Said(source="row.event", help_text="noun.verb")
    subject = Said(source="row.subject", help_text="What it was done to, in words.")


class Changes(Gives):
    """Changes in their order; ask again since the cursor."""

    changes = ChangeShown(many=True)
    cursor = serializers.IntegerField()
    more = serializers.BooleanField(help_text="Whether to ask again at once.")
