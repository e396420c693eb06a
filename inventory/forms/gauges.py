"""Forms of the gauges pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.gauges import MasterReadings, ModeFigures
from inventory.compute.errors import ComputeError
from inventory.compute.gauge_study import StudyMethod
from inventory.compute.gauges import GaugeMode as Mode
from inventory.compute.instruments import CheckKind, Instrument
from inventory.compute.units import Unit, parse_reading
from inventory.forms.base import PageForm
from inventory.models.words import choices_of

NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class CheckForm(PageForm):
    """A check by readings of a master, and at zero."""

    kind = forms.ChoiceField(label=_("Check"), choices=choices_of(CheckKind))
    zero = forms.CharField(
        label=_("Reads at zero"),
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs=NUMBER),
        help_text=_("Jaws closed; the zero button and the inch mode show here."),
    )
    master = forms.CharField(
        label=_("Master, its size"),
        max_length=40,
        widget=forms.TextInput(attrs=NUMBER),
        help_text=_("About 20 mm for a check tonight."),
    )
    texts = forms.CharField(
        label=_("Readings of the master"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "decimal"}),
        help_text=_("One or several, a blank between them."),
    )

    def said(self) -> MasterReadings:
        said = self.cleaned_data
        return MasterReadings(
            kind=CheckKind(said["kind"]),
            master_text=said["master"],
            texts=tuple(said["texts"].split()),
            zero_text=said["zero"],
        )


class StudyForm(PageForm):
    """The readings of a gauge study, and how they are worked out."""

    table = forms.CharField(
        label=_("Readings"),
        widget=forms.Textarea(attrs={"rows": 12, "class": "pasted"}),
        max_length=200_000,
        help_text=_(
            "A row a reading: part, person, trial, value; paste a spreadsheet."
        ),
    )
    method = forms.ChoiceField(label=_("Method"), choices=choices_of(StudyMethod))


class NewGaugeForm(PageForm):
    """A gauge that comes into use, in its first mode."""

    name = forms.CharField(label=_("Name"), max_length=60)
    instrument = forms.ChoiceField(
        label=_("Instrument"), choices=choices_of(Instrument)
    )
    mode = forms.ChoiceField(label=_("Mode"), choices=choices_of(Mode))
    unit = forms.ChoiceField(
        label=_("Unit"),
        choices=[(one.value, one.value) for one in Unit if one is not Unit.ONE],
    )
    resolution = forms.CharField(
        label=_("Step of its display"), widget=forms.TextInput(attrs=NUMBER)
    )
    max_permissible_error = forms.CharField(
        label=_("Permissible error, plus or minus"),
        widget=forms.TextInput(attrs=NUMBER),
    )
    check_every_days = forms.IntegerField(
        label=_("Checked every (days)"),
        min_value=1,
        max_value=3_650,
        initial=180,
        widget=forms.TextInput(attrs=NUMBER),
    )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for name in ("resolution", "max_permissible_error"):
            if name in said and "unit" in said:
                said[name] = self._size(name, said[name], Unit(said["unit"]))
        return said

    def _size(self, name: str, text: str, unit: Unit) -> int | None:
        try:
            size = parse_reading(text, unit=unit).millionths
        except ComputeError as error:
            self.add_error(name, forms.ValidationError(str(error), code=error.code))
            return None
        if size < 0:
            self.add_error(name, _("An error is not below 0."))
        return size

    def figures(self) -> ModeFigures:
        said = self.cleaned_data
        return ModeFigures(
            mode=Mode(said["mode"]),
            unit=Unit(said["unit"]),
            resolution=said["resolution"],
            max_permissible_error=said["max_permissible_error"],
        )
