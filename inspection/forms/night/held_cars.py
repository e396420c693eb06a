"""Forms of what is held and drawn after the race."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.night import EntryState
from inspection.models import Entry, RaceNight
from inspection.models.car_numbers import by_number
from inventory.forms.base import PageForm


class HoldForm(PageForm):
    """A car that passed, and why it is held."""

    entry = forms.ModelChoiceField(Entry.objects.none(), label=_("Car"))
    reason = forms.CharField(label=_("Reason"), max_length=200)

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        super().__init__(data)
        passed = night.entries.filter(state=EntryState.PASSED)
        self.fields["entry"].queryset = passed.select_related(  # type: ignore[attr-defined]
            "car", "race_class"
        ).order_by(*by_number())


class SampleForm(PageForm):
    """How many cars are drawn after the race."""

    count = forms.IntegerField(
        label=_("Cars to draw after the race"), min_value=1, max_value=99
    )


class TakeBackForm(PageForm):
    """Why the sample is taken back; beside the form that holds a car."""

    reason = forms.CharField(label=_("Reason"), max_length=200)

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, auto_id="take_back_%s")
