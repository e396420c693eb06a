"""The form that brings a club's usual gauges into use at one go."""

from typing import Any, Final

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.actions.gauges import ModeFigures, NewGauge
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import USUAL_GAUGES, UsualGauge, UsualMode
from inventory.compute.numbers import Unit, parse_reading
from inventory.forms.base import PageForm
from inventory.words.enumerations import word_of

NUMBER: Final = {
    "inputmode": "decimal",
    "class": "number-input short",
    "autocomplete": "off",
}


class UsualGaugesForm(PageForm):
    """Which of the usual gauges the club has, what it calls them, what they err."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        for usual in USUAL_GAUGES:
            main, name = usual.modes[0], word_of(usual.name)
            self.fields[f"has_{usual.key}"] = forms.BooleanField(
                label=name, required=False
            )
            self.fields[f"name_{usual.key}"] = forms.CharField(
                label=_("Name"),
                max_length=60,
                required=False,
                initial=name,
            )
            self.fields[f"error_{usual.key}"] = forms.CharField(
                label=_("Permissible error, ± %(unit)s") % {"unit": main.unit},
                max_length=20,
                required=False,
                initial=main.error,
                widget=forms.TextInput(attrs=NUMBER),
            )

    def rows(self) -> list[dict[str, Any]]:
        """Give the fields of each gauge together, with what it is."""
        return [
            {
                "usual": usual,
                "has": self[f"has_{usual.key}"],
                "name": self[f"name_{usual.key}"],
                "error": self[f"error_{usual.key}"],
            }
            for usual in USUAL_GAUGES
        ]

    def ticked(self) -> list[UsualGauge]:
        cleaned = self.cleaned_data
        return [usual for usual in USUAL_GAUGES if cleaned.get(f"has_{usual.key}")]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.ticked():
            raise forms.ValidationError(
                gettext("No gauge is ticked; tick each one that the club has."),
                code="nothing_ticked",
            )
        for usual in self.ticked():
            if not cleaned.get(f"name_{usual.key}"):
                self.add_error(f"name_{usual.key}", gettext("A name is expected."))
            self._read_error(usual, cleaned)
        return cleaned

    def _read_error(self, usual: UsualGauge, cleaned: dict[str, Any]) -> None:
        field = f"error_{usual.key}"
        try:
            error = _millionths(cleaned.get(field, ""), usual.modes[0].unit)
        except ComputeError as refusal:
            self.add_error(field, forms.ValidationError(str(refusal)))
            return
        if error < 0:
            self.add_error(field, gettext("An error is not below 0."))
        cleaned[field] = error

    def gauges(self) -> list[NewGauge]:
        cleaned = self.cleaned_data
        return [
            NewGauge(
                name=cleaned[f"name_{usual.key}"],
                instrument=usual.instrument,
                modes=tuple(
                    _figures(mode, usual, cleaned[f"error_{usual.key}"])
                    for mode in usual.modes
                ),
                check_every_days=usual.check_every_days,
            )
            for usual in self.ticked()
        ]


def _figures(mode: UsualMode, usual: UsualGauge, error: int) -> ModeFigures:
    """Give a mode's figures; what it errs more than the first stays more."""
    usually = _millionths(mode.error, mode.unit)
    more = usually - _millionths(usual.modes[0].error, mode.unit)
    return ModeFigures(
        mode=mode.mode,
        unit=mode.unit,
        resolution=_millionths(mode.step, mode.unit),
        max_permissible_error=error + more,
    )


def _millionths(text: str, unit: Unit) -> int:
    return parse_reading(text, unit=unit).millionths
