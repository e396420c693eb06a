"""Forms by which what is said of a part is put right."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from inventory.actions.corrections.facts import PartCorrection
from inventory.compute.stock import KINDS
from inventory.forms.base import PageForm
from inventory.forms.stock import facts_typed, field_of
from inventory.models import Part, PartReading
from inventory.words.enumerations import word_of


class ReasonForm(PageForm):
    """Why."""

    reason = forms.CharField(label=_("Reason"), max_length=200)


class CorrectPartForm(PageForm):
    """All that is said of a part, as it stands, and why it is said otherwise."""

    name = forms.CharField(label=_("Name"), required=False, max_length=80)
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)
    reason = forms.CharField(
        label=_("Reason"),
        required=False,
        max_length=200,
        help_text=_("It stays beside what stood there; another drawer needs none."),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, part: Part) -> None:
        stands = facts_typed(part) | {"version": part.version}
        super().__init__(data, initial=stands, prefix="correct")
        self.kind = KINDS[part.kind]
        for fact in self.kind.fact_list:
            self.fields[fact.name] = field_of(fact)

    @property
    def shown(self) -> list[forms.BoundField]:
        names = ("name", *(fact.name for fact in self.kind.fact_list), "drawer")
        return [self[name] for name in names]

    def said(self) -> PartCorrection:
        cleaned = self.cleaned_data
        return PartCorrection(
            name=cleaned["name"],
            drawer=cleaned["drawer"],
            version=cleaned["version"],
            reason=cleaned["reason"],
            facts={
                fact.name: fact.words(cleaned[fact.name])
                if fact.words
                else cleaned[fact.name]
                for fact in self.kind.fact_list
            },
        )


class StrikeForm(PageForm):
    """Which reading no longer counts, and why."""

    reading = forms.TypedChoiceField(label=_("Reading"), coerce=int)
    reason = forms.CharField(label=_("Reason"), max_length=200)

    def __init__(self, data: Any = None, *, readings: Sequence[PartReading]) -> None:
        super().__init__(data, prefix="strike")
        self.readings = {one.pk: one for one in readings}
        self.fields["reading"].choices = [  # type: ignore[attr-defined]
            (one.pk, _shown(one)) for one in readings
        ]

    @property
    def chosen(self) -> PartReading:
        return self.readings[self.cleaned_data["reading"]]


def _shown(reading: PartReading) -> str:
    estimate = reading.estimate
    what = word_of(estimate.quantity.replace("_", " "))
    at = date_format(timezone.localtime(estimate.taken_at), "j M Y")
    return f"{what}: {reading.text} ({estimate.by}, {at})"
