"""The form by which parts are handed back, with what they measure now."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.drawers.taking_back import CounterReadings
from inventory.compute.errors import ComputeError
from inventory.compute.stock import KINDS
from inventory.forms.base import PageForm
from inventory.forms.gauge_choice import EMPTY, offer_gauges
from inventory.forms.stock import NUMBER, ask_about
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Part
from inventory.words.numbers import error_words


class TakeBackForm(PageForm):
    """What was read of each part at the counter; empty: nothing was."""

    gauge = forms.TypedChoiceField(
        label=_("Read with"), coerce=int, empty_value=None, required=False
    )
    right = forms.BooleanField(
        label=_("The sizes are right as they stand"), required=False
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def __init__(
        self,
        data: Any = None,
        *,
        parts: Sequence[Part],
        gauges: Sequence[LoadedGauge] = (),
    ) -> None:
        super().__init__(data, prefix="back")
        self.parts = list(parts)
        self.gauges = offer_gauges(self.fields["gauge"], gauges, before=EMPTY)
        for part in self.parts:
            self.fields[f"size_{part.pk}"] = forms.CharField(
                label=f"{part.tag}: {KINDS[part.kind].main.name}",
                required=False,
                max_length=120,
                widget=forms.TextInput(attrs=NUMBER),
            )
        self.is_doubted = False

    @property
    def size_fields(self) -> list[tuple[forms.BoundField, str]]:
        return [
            (
                self[f"size_{part.pk}"],
                KINDS[part.kind].main.unit.symbol,
            )
            for part in self.parts
        ]

    def clean(self) -> None:
        super().clean()
        cleaned = self.cleaned_data
        for part in self.parts:
            name, main = f"size_{part.pk}", KINDS[part.kind].main
            try:
                asked = ask_about(cleaned.get(name, "").split(), main)
            except ComputeError as error:
                wrong = forms.ValidationError(error_words(error), code=error.code)
                self.add_error(name, wrong)
                continue
            if asked and not cleaned.get("right"):
                self.is_doubted = True
                self.add_error(name, forms.ValidationError(asked, code="strange"))

    def read(self) -> CounterReadings:
        cleaned = self.cleaned_data
        texts = {part.tag: cleaned[f"size_{part.pk}"].split() for part in self.parts}
        return CounterReadings(
            texts={tag: some for tag, some in texts.items() if some},
            gauge=self.gauges.get(cleaned["gauge"]),
        )


def take_back_form(
    data: Any, parts: Sequence[Part], gauges: Sequence[LoadedGauge]
) -> TakeBackForm:
    """Give the form for parts, with the gauges that read their main size."""
    units = {KINDS[part.kind].main.unit for part in parts}
    fit = [one for one in gauges if one.mode.unit in units]
    return TakeBackForm(data, parts=parts, gauges=fit)
