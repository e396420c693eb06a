"""Forms of the gauges pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.gauges import MasterReadings, ModeFigures
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import (
    CheckKind,
    Instrument,
    StudyMethod,
    find_strange_master,
    find_strange_of_master,
    master_range,
    modes_of,
)
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.numbers import Strange, Unit, from_millionths, parse_reading
from inventory.forms.base import PageForm
from inventory.models import GaugeMode
from inventory.words.enumerations import word_choices, word_of
from inventory.words.numbers import error_words
from inventory.words.strange import question_words

#: What a gauge of lengths is checked against before a night.
USUAL_MASTER_MM = 20.0
NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class CheckForm(PageForm):
    """A check by readings of a master, and at zero; what is strange is asked about."""

    kind = forms.ChoiceField(label=_("Check"), choices=word_choices(CheckKind))
    zero = forms.CharField(
        label=_("Reads at zero"),
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs=NUMBER),
    )
    master = forms.CharField(
        label=_("Master, its size"),
        max_length=40,
        widget=forms.TextInput(attrs=NUMBER),
    )
    texts = forms.CharField(
        label=_("Readings of the master"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "decimal"}),
        help_text=_("One or several, a blank between them."),
    )
    right = forms.BooleanField(
        label=_("These figures are right as they stand"), required=False
    )

    def __init__(self, data: Any = None, *, mode: GaugeMode) -> None:
        super().__init__(data)
        self.unit, self.instrument = mode.unit, mode.gauge.instrument
        self.is_doubted = False
        is_length = self.unit is Unit.MILLIMETRE
        self.fields["zero"].help_text = (
            _("Jaws closed; the zero button and the inch mode show here.")
            if is_length
            else _("With nothing on it or connected to it.")
        )
        self.fields["master"].help_text = self._master_help()

    def _master_help(self) -> str:
        known = master_range(self.instrument, self.unit)
        if known is None:
            return ""
        low, high = known
        if self.unit is Unit.MILLIMETRE and low <= USUAL_MASTER_MM <= high:
            return str(_("About 20 mm for a check tonight."))
        sentence = _("What a %(gauge)s reads: %(low)g to %(high)g %(unit)s.")
        gauge = word_of(self.instrument)
        return str(sentence) % {
            "gauge": gauge,
            "low": low,
            "high": high,
            "unit": self.unit.symbol,
        }

    def clean(self) -> None:
        super().clean()
        cleaned = self.cleaned_data
        if cleaned["right"] or "master" not in cleaned or "texts" not in cleaned:
            return
        master = self._number("master", cleaned["master"])
        if master is None:
            return
        kind, unit = self.instrument, self.unit
        odd = find_strange_master(master, instrument=kind, unit=unit)
        self._doubt("master", cleaned["master"], odd)
        for text in cleaned["texts"].split():
            reading = self._number("texts", text)
            if reading is not None and odd is None:
                of_master = find_strange_of_master(reading, master=master, unit=unit)
                self._doubt("texts", text, of_master)

    def _number(self, name: str, text: str) -> float | None:
        try:
            return parse_reading(text, unit=self.unit).value
        except ComputeError as error:
            self.add_error(
                name, forms.ValidationError(error_words(error), code=error.code)
            )
            return None

    def _doubt(self, name: str, text: str, odd: Strange | None) -> None:
        if odd is not None:
            self.is_doubted = True
            self.add_error(
                name, forms.ValidationError(question_words(odd, text), code="strange")
            )

    def said(self) -> MasterReadings:
        cleaned = self.cleaned_data
        return MasterReadings(
            kind=CheckKind(cleaned["kind"]),
            master_text=cleaned["master"],
            texts=tuple(cleaned["texts"].split()),
            zero_text=cleaned["zero"],
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
    method = forms.ChoiceField(label=_("Method"), choices=word_choices(StudyMethod))


class FiguresForm(PageForm):
    """The errors that a gauge may have in a mode, in the mode's unit."""

    resolution = forms.CharField(
        label=_("Step of its display"), widget=forms.TextInput(attrs=NUMBER)
    )
    max_permissible_error = forms.CharField(
        label=_("Permissible error, plus or minus"),
        widget=forms.TextInput(attrs=NUMBER),
    )
    repeatability = forms.CharField(
        label=_("Repeatability"),
        required=False,
        widget=forms.TextInput(attrs=NUMBER),
        help_text=_("From its study; empty: that of the quantity it reads."),
    )

    def unit_said(self) -> Unit | None:
        """Give the unit of the figures, where it is known."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        unit = self.unit_said()
        for name in ("resolution", "max_permissible_error", "repeatability"):
            if name in cleaned and unit is not None:
                cleaned[name] = self._size(name, cleaned[name] or "0", unit)
        return cleaned

    def _size(self, name: str, text: str, unit: Unit) -> int | None:
        try:
            size = parse_reading(text, unit=unit).millionths
        except ComputeError as error:
            self.add_error(
                name, forms.ValidationError(error_words(error), code=error.code)
            )
            return None
        if size < 0:
            self.add_error(name, _("An error is not below 0."))
        return size

    def _figures(self, mode: Mode, unit: Unit) -> ModeFigures:
        cleaned = self.cleaned_data
        return ModeFigures(
            mode=mode,
            unit=unit,
            resolution=cleaned["resolution"],
            max_permissible_error=cleaned["max_permissible_error"],
            repeatability=cleaned["repeatability"],
        )


class NewModeForm(FiguresForm):
    """One more mode of a gauge."""

    mode = forms.ChoiceField(label=_("Mode"), choices=word_choices(Mode))
    unit = forms.ChoiceField(
        label=_("Unit"),
        choices=word_choices(one for one in Unit if one is not Unit.ONE),
    )
    field_order = ("name", "instrument", "mode", "unit")

    def __init__(
        self, data: Any = None, *, instrument: Instrument | None = None
    ) -> None:
        super().__init__(data)
        self.of_instrument = instrument
        if instrument is not None:
            self.fields["mode"].choices = word_choices(  # type: ignore[attr-defined]
                modes_of(instrument)
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        instrument = self.of_instrument or cleaned.get("instrument")
        if instrument and cleaned.get("mode"):
            self._hold(Instrument(instrument), Mode(cleaned["mode"]))
        return cleaned

    def _hold(self, instrument: Instrument, mode: Mode) -> None:
        """Refuse a way that an instrument cannot be held in."""
        ways = modes_of(instrument)
        if mode in ways:
            return
        self.add_error(
            "mode",
            forms.ValidationError(
                _("A %(gauge)s is not held so; %(ways)s was expected."),
                code="no_such_mode",
                params={
                    "gauge": word_of(instrument),
                    "ways": ", ".join(map(word_of, ways)),
                },
            ),
        )

    def unit_said(self) -> Unit | None:
        unit = self.cleaned_data.get("unit")
        return Unit(unit) if unit else None

    def figures(self) -> ModeFigures:
        cleaned = self.cleaned_data
        return self._figures(Mode(cleaned["mode"]), Unit(cleaned["unit"]))


class ChangeFiguresForm(FiguresForm):
    """Other figures of a gauge in a mode, and why."""

    reason = forms.CharField(label=_("Reason"), max_length=200)

    def __init__(self, data: Any = None, *, mode: GaugeMode) -> None:
        self.was = mode
        names = ("resolution", "max_permissible_error", "repeatability")
        stands = {name: f"{from_millionths(getattr(mode, name)):.6f}" for name in names}
        shown = {name: text.rstrip("0").rstrip(".") for name, text in stands.items()}
        if not mode.repeatability:
            shown["repeatability"] = ""
        super().__init__(data, initial=shown)

    def unit_said(self) -> Unit | None:
        return self.was.unit

    def figures(self) -> ModeFigures:
        return self._figures(self.was.mode, self.was.unit)


class NewGaugeForm(NewModeForm):
    """A gauge that comes into use, in its first mode."""

    name = forms.CharField(label=_("Name"), max_length=60)
    instrument = forms.ChoiceField(
        label=_("Instrument"), choices=word_choices(Instrument)
    )
    check_every_days = forms.IntegerField(
        label=_("Checked every (days)"),
        min_value=1,
        max_value=3_650,
        initial=180,
        widget=forms.TextInput(attrs=NUMBER),
    )
