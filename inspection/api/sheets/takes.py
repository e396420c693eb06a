"""What is said on a sheet."""

from rest_framework import serializers

from inspection.compute.night import Decision, Ruling
from inspection.compute.rulebooks import Answer
from inventory.api.foundation.shapes import DeviceTime, Key, Takes, Text, Word


class ReadingSaid(Takes):
    column = Text(max_length=44, help_text="Which of the sheet's steps it is of.")
    text = Text(
        max_length=200,
        required=False,
        default="",
        help_text="As it was read, with its unit if it has one: 17.98, 0.71 in.",
    )
    high_text = Text(
        max_length=200,
        required=False,
        default="",
        help_text="Of two slips the one that stops.",
    )
    answer = Word(
        Answer,
        required=False,
        allow_null=True,
        default=None,
        help_text="Yes or no: of a look, or whether a limit slip goes.",
    )
    gauge = Key(
        required=False, allow_null=True, default=None, help_text="A gauge's mode."
    )
    taken_at = DeviceTime(
        required=False,
        allow_null=True,
        default=None,
        help_text="By the clock where it was read; null: now. One that cannot be is "
        "kept as clock_said, and the time is ours.",
    )
    confirmed = serializers.BooleanField(
        required=False,
        default=False,
        help_text="It was asked about, and is right as it stands.",
    )


class StrikeSaid(Takes):
    reading = Key(help_text="The reading's own id, not the device's.")
    reason = Text(max_length=200)


class NoteSaid(Takes):
    text = Text(max_length=500)
    picture = Text(
        max_length=2_000_000,
        required=False,
        default="",
        help_text="A JPEG, PNG or WebP in base64.",
    )


class SealSaid(Takes):
    decision = Word(Decision)
    reason = Text(max_length=200, required=False, default="")


class RulingSaid(Takes):
    ruling = Word(Ruling)
    reason = Text(max_length=200)


class HandOutSaid(Takes):
    tags = serializers.ListField(child=Text(max_length=12), min_length=1, max_length=8)
