"""What is said of whoever asks."""

from rest_framework import serializers

from inventory.api.foundation.shapes import Gives, Said


class WhoAsks(Gives):
    """Whoever asks, and what they and their token may do."""

    id = serializers.IntegerField()
    name = Said()
    roles = serializers.ListField(child=Said())
    abilities = serializers.ListField(child=Said())
    scope = Said(help_text="Of the token; “all” for a browser's session.")
    csrf_token = Said(
        help_text="Of a browser's session: for X-CSRFToken with each write."
    )
