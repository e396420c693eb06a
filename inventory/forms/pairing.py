"""What is asked of a bag of tyres, and what becomes of the pairs."""

import re
from typing import Any, Final, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.compute.errors import ComputeError
from inventory.compute.numbers import Unit, parse_reading, tolerance_um
from inventory.compute.pairing import (
    Asked,
    Bag,
    Feature,
    FeatureLimit,
    GroupBy,
    PairingWay,
    RejectLimits,
)
from inventory.files.columns import PLAUSIBLE_MM
from inventory.forms.base import PageForm
from inventory.forms.people.people import PersonField
from inventory.words.numbers import error_words

NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}

#: What stands in the form when nothing was asked yet; like stays with like in all
#: that the bag says.
DEFAULTS: Final[dict[str, str]] = {
    "way": PairingWay.PAIRS.value,
    "tolerance": "0.05",
    "stagger": "0.10",
    "reading_count": "1",
    "track": "55",
    "max_removal": "0.5",
    "floor": f"{PLAUSIBLE_MM[0]:g}",
    "clean_up": "0",
}
_UNITS: Final = {
    Feature.WIDTH: Unit.MILLIMETRE,
    Feature.OUT_OF_ROUND: Unit.MILLIMETRE,
    Feature.TAPER: Unit.MILLIMETRE,
    Feature.HARDNESS: Unit.SHORE_A,
}


class ToleranceField(forms.CharField):
    """A length that is allowed, in whole micrometres, rounded up."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs=NUMBER), max_length=20, **options)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return tolerance_um(text)
        except ComputeError as error:
            raise forms.ValidationError(error_words(error), code=error.code) from error


class AmountField(forms.CharField):
    """A number that is not negative, in a unit of its own."""

    def __init__(self, *, unit: Unit, **options: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs=NUMBER), max_length=20, **options)
        self.unit = unit

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            number = parse_reading(text, unit=self.unit)
        except ComputeError as error:
            raise forms.ValidationError(error_words(error), code=error.code) from error
        if number.millionths < 0:
            raise forms.ValidationError(_("Not below 0."), code="negative")
        return number.value


class GroupBoxes(forms.CheckboxSelectMultiple):
    """Boxes of which those that the bag says nothing of cannot be ticked."""

    unsaid: frozenset[str] = frozenset()

    def create_option(
        self, name: str, value: Any, label: Any, *rest: Any, **more: Any
    ) -> Any:
        option = super().create_option(name, value, label, *rest, **more)
        if str(value) in self.unsaid:
            option["label"] = _("%(word)s: no tyre of this bag says it") % {
                "word": label
            }
            option["attrs"]["disabled"] = True
        return option


class PairingForm(PageForm):
    """How a bag is to be paired; all of it stands in the page's address."""

    way = forms.ChoiceField(
        label=_("Make"),
        choices=[
            (PairingWay.PAIRS, _("pairs")),
            (PairingWay.STAGGER, _("pairs with stagger")),
            (PairingWay.FEATURES, _("pairs alike in several measures")),
            (PairingWay.SETS, _("sets of four")),
        ],
    )
    tolerance = ToleranceField(label=_("Tolerance"))
    stagger = ToleranceField(label=_("Stagger"), required=False)
    group_by = forms.MultipleChoiceField(
        label=_("Only with its like in"),
        required=False,
        choices=[
            (GroupBy.COMPOUND, _("compound")),
            (GroupBy.WIDTH_CODE, _("width code")),
            (GroupBy.WHEEL, _("wheel")),
        ],
        widget=GroupBoxes,
    )
    out_of_round = AmountField(
        label=_("Out of round, at most"), required=False, unit=Unit.MILLIMETRE
    )
    taper = AmountField(label=_("Taper, at most"), required=False, unit=Unit.MILLIMETRE)
    reading_count = forms.IntegerField(
        label=_("Readings, at least"),
        min_value=1,
        max_value=99,
        widget=forms.TextInput(attrs=NUMBER),
    )
    diameter_weight = AmountField(label=_("Weight"), required=False, unit=Unit.ONE)
    track = AmountField(
        label=_("Track of the car"), required=False, unit=Unit.MILLIMETRE
    )
    max_removal = ToleranceField(label=_("Off a tyre at most"), required=False)
    floor = ToleranceField(label=_("Not below"), required=False)
    clean_up = ToleranceField(label=_("Clean-up cut"), required=False)

    def __init__(self, data: Any, *, bag: Bag) -> None:
        super().__init__(data)
        boxes = cast("GroupBoxes", self.fields["group_by"].widget)
        boxes.unsaid = frozenset(
            group.value for group in GroupBy if not bag.says(group)
        )
        for feature, unit in _UNITS.items():
            name = feature.value.replace(" ", "_")
            self.fields[f"{name}_within"] = AmountField(
                label=_("within"), required=False, unit=unit
            )
            self.fields[f"{name}_weight"] = AmountField(
                label=_("weight"), required=False, unit=Unit.ONE
            )

    def feature_fields(self) -> list[tuple[Feature, str, forms.BoundField, Any]]:
        """Give each further measure, its unit and its two fields."""
        return [
            (
                feature,
                unit.value,
                self[f"{feature.value.replace(' ', '_')}_within"],
                self[f"{feature.value.replace(' ', '_')}_weight"],
            )
            for feature, unit in _UNITS.items()
        ]

    def asked(self) -> Asked:
        cleaned = self.cleaned_data
        low, high = PLAUSIBLE_MM
        return Asked(
            way=PairingWay(cleaned["way"]),
            tolerance_um=cleaned["tolerance"],
            stagger_um=cleaned["stagger"] or 0,
            group_by=tuple(GroupBy(word) for word in cleaned["group_by"]),
            features=self._features(),
            diameter_weight=_or_one(cleaned["diameter_weight"]),
            limits=RejectLimits(
                low_mm=low,
                high_mm=high,
                out_of_round_mm=_or_any(cleaned["out_of_round"]),
                taper_mm=_or_any(cleaned["taper"]),
                reading_count=cleaned["reading_count"],
            ),
        )

    def _features(self) -> dict[Feature, FeatureLimit]:
        cleaned = self.cleaned_data
        limits = {}
        for feature in _UNITS:
            name = feature.value.replace(" ", "_")
            within = cleaned[f"{name}_within"]
            if within is not None:
                weight = _or_one(cleaned[f"{name}_weight"])
                limits[feature] = FeatureLimit(tolerance=within, weight=weight)
        return limits


class ConfirmForm(PageForm):
    """Into which drawers the pairs go, and which pairs were looked at."""

    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=36)
    per_drawer = forms.IntegerField(
        label=_("Pairs a drawer"),
        required=False,
        min_value=1,
        max_value=10_000,
        widget=forms.TextInput(attrs=NUMBER),
        help_text=_("Empty: all into one. Else the drawers are numbered on."),
    )
    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def drawers(self, count: int) -> list[str]:
        """Give each pair its drawer, numbered on from the one that was said."""
        name, per = self.cleaned_data["drawer"], self.cleaned_data["per_drawer"]
        if not name or not per:
            return [name] * count
        stem, number = re.fullmatch(r"(.*?)(\d*)", name).groups()  # type: ignore[union-attr]
        first = int(number) if number else 1
        stem = stem if number else f"{stem} "
        width = len(number)
        return [f"{stem}{first + place // per:0{width}d}" for place in range(count)]


class SplitForm(PageForm):
    """Why a pair is split."""

    reason = forms.CharField(label=_("Reason"), max_length=120)


class HandOutForm(PageForm):
    """To whom a pair goes."""

    to_person = PersonField(label=_("To"))
    note = forms.CharField(label=_("Note"), required=False, max_length=200)


def _or_any(value: float | None) -> float:
    return float("inf") if value is None else value


def _or_one(value: float | None) -> float:
    return 1.0 if value is None else value
