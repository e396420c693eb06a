"""What is said of gauges."""

from rest_framework import serializers

from inventory.api.foundation.shapes import Takes, Text, Word, like_form
from inventory.compute.measuring import CheckKind, StudyMethod
from inventory.forms.gauges import NewGaugeForm, NewModeForm

NewGaugeSaid = like_form(NewGaugeForm, "NewGaugeSaid")
NewModeSaid = like_form(NewModeForm, "NewModeSaid")


class FiguresSaid(Takes):
    resolution = Text(max_length=40)
    max_permissible_error = Text(max_length=40)
    repeatability = Text(max_length=40, required=False, default="")
    reason = Text(max_length=200)


class CheckSaid(Takes):
    kind = Word(CheckKind)
    master = Text(max_length=40, help_text="The size of the master, as it is typed.")
    texts = serializers.ListField(
        child=Text(max_length=40), min_length=1, max_length=20
    )
    zero = Text(max_length=40, required=False, default="")
    confirmed = serializers.BooleanField(required=False, default=False)


class StudySaid(Takes):
    table = Text(
        max_length=200_000, help_text="A row a reading: part, person, trial, value."
    )
    method = Word(StudyMethod)
