"""What a box says."""

from rest_framework import serializers

from inventory.api.foundation.shapes import DeviceTime, Key, Takes, Text


class BoxReadingSaid(Takes):
    sheet = Text(max_length=32, help_text="The sheet that was asked for it.")
    by = Key(help_text="For whom the box read.")
    column = Text(max_length=44)
    text = Text(max_length=200, help_text="As the gauge sent it.")
    taken_at = DeviceTime(
        required=False, allow_null=True, default=None, help_text="By the box's clock."
    )
    confirmed = serializers.BooleanField(required=False, default=False)
