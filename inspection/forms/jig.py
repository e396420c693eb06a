"""The form of the jig sheet: what is set up, and what is read after soldering."""

import math
import re
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.jig import JigSetUp, JigSheet, SolderedChassis
from inspection.compute.quantities import QUANTITIES
from inspection.forms.fit.fields import SizeField, size_of
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import Gauge, estimate
from inventory.compute.numbers import Unit, parse_reading
from inventory.forms.base import PageForm
from inventory.words.numbers import error_words

MOST_SHIMS: Final = 60
#: One reading of a height with a caliper as most clubs have, by its rod: step 0.01,
#: permissible error 0.02 and 0.02 more for the rod; common practice, no source.
_READ: Final = estimate(
    [0.0], Gauge(0.01, 0.04, QUANTITIES["axle_height_rear"].repeatability)
)
_TIMES: Final = re.compile(r"(?:(?P<count>\d{1,2})[x×*])?(?P<shim>.+)")


class ShimsField(forms.CharField):
    """Shims in the box, a blank between them; “4×0.1” for four alike."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("required", False)
        super().__init__(
            max_length=400,
            widget=forms.TextInput(
                attrs={"autocomplete": "off", "inputmode": "decimal"}
            ),
            **options,
        )

    def clean(self, value: Any) -> tuple[float, ...]:
        words = re.split(r"[\s;]+", super().clean(value).strip())
        shims = tuple(shim for word in words if word for shim in _shims(word))
        if len(shims) > MOST_SHIMS:
            raise forms.ValidationError(
                _("%(count)d shims were typed; at most %(most)d were expected."),
                code="too_many_shims",
                params={"count": len(shims), "most": MOST_SHIMS},
            )
        return shims


def _shims(word: str) -> list[float]:
    match = _TIMES.fullmatch(word)
    text, count = (word, 1) if match is None else (match["shim"], match["count"] or 1)
    try:
        shim = parse_reading(text, unit=Unit.MILLIMETRE).value
    except ComputeError as error:
        raise forms.ValidationError(error_words(error), code=error.code) from error
    if not 0.001 <= shim <= 10.0:
        raise forms.ValidationError(
            _("“%(typed)s” was typed; a shim of 0.001 to 10 mm was expected."),
            code="not_a_shim",
            params={"typed": word},
        )
    return [shim] * int(count)


class JigForm(PageForm):
    """What is set up in the jig and read afterwards; in millimetres."""

    jig_tyre = size_of(
        "tyre_diameter_rear", label=gettext_lazy("Jig tyres"), required=True
    )
    race_tyre = size_of(
        "tyre_diameter_rear", label=gettext_lazy("Race tyres"), required=True
    )
    can_height = size_of(
        "can_height", label=gettext_lazy("Motor, height as mounted"), required=True
    )
    motor_lift = SizeField(
        label=gettext_lazy("Motor over the flat of the chassis"),
        low=0,
        high=10,
        help_text=gettext_lazy("Empty: it lies on the flat, 0."),
    )
    axle_offset = SizeField(
        label=gettext_lazy("Axle wanted over the motor shaft"),
        low=-5,
        high=5,
        help_text=gettext_lazy(
            "0, or empty: in line; negative: the axle below the shaft."
        ),
    )
    gear_clearance = SizeField(
        label=gettext_lazy("Least gap wanted under the gear"), low=0, high=5
    )
    axle_to_bar = SizeField(label=gettext_lazy("Axle to chassis bar"), low=1, high=40)
    shims = ShimsField(
        label=gettext_lazy("Shims in the box"),
        help_text=gettext_lazy("A blank between them: 0.1 0.2 2×0.5"),
    )
    stacks = forms.TypedChoiceField(
        label=gettext_lazy("Stacks to build"),
        coerce=int,
        choices=[
            (1, gettext_lazy("one, under the middle")),
            (2, gettext_lazy("two alike, left and right")),
        ],
        required=False,
    )
    height_left = size_of("axle_height_rear", label=gettext_lazy("Axle height, left"))
    height_right = size_of("axle_height_rear", label=gettext_lazy("Axle height, right"))
    height_span = size_of(
        "axle_station_span_rear", label=gettext_lazy("Between the two places")
    )
    track = size_of("track_rear", label=gettext_lazy("Track"))
    reference_left = size_of(
        "axle_to_reference", label=gettext_lazy("Axle to reference, left")
    )
    reference_right = size_of(
        "axle_to_reference", label=gettext_lazy("Axle to reference, right")
    )
    reference_span = size_of(
        "axle_reference_span", label=gettext_lazy("Between the two places")
    )
    shaft_height = size_of(
        "motor_axis_height", label=gettext_lazy("Motor shaft over the underside")
    )
    twist = SizeField(
        label=gettext_lazy("Front wheel off the block"),
        low=-3,
        high=3,
        help_text=gettext_lazy("Right one up: positive; left one up: negative."),
    )

    SET_UP: Final = (
        "jig_tyre",
        "race_tyre",
        "can_height",
        "motor_lift",
        "axle_offset",
        "gear_clearance",
        "axle_to_bar",
    )

    def set_up(self) -> JigSetUp:
        """Give what is set up; what was left out is nothing or not known."""
        cleaned = self.cleaned_data
        return JigSetUp(
            jig_tyre_diameter_mm=cleaned["jig_tyre"],
            race_tyre_diameter_mm=cleaned["race_tyre"],
            can_height_mm=cleaned["can_height"],
            motor_lift_mm=_or(cleaned["motor_lift"], 0.0),
            axle_offset_mm=_or(cleaned["axle_offset"], 0.0),
            least_gear_clearance_mm=_known(cleaned["gear_clearance"]),
            axle_to_bar_mm=_known(cleaned["axle_to_bar"]),
            shims_mm=cleaned["shims"],
            stacks=int(cleaned["stacks"] or 1),
        )

    def chassis(self, plan: JigSheet) -> SolderedChassis:
        """Give what was read after soldering, beside what was planned."""
        cleaned = self.cleaned_data
        return SolderedChassis(
            axle_height_left_mm=_known(cleaned["height_left"]),
            axle_height_right_mm=_known(cleaned["height_right"]),
            station_span_mm=_known(cleaned["height_span"]),
            track_mm=_known(cleaned["track"]),
            axle_to_reference_left_mm=_known(cleaned["reference_left"]),
            axle_to_reference_right_mm=_known(cleaned["reference_right"]),
            reference_span_mm=_known(cleaned["reference_span"]),
            motor_axis_height_mm=_known(cleaned["shaft_height"]),
            gear_design_offset_mm=_or(cleaned["axle_offset"], 0.0),
            twist_mm=_known(cleaned["twist"]),
            planned_axle_height_mm=plan.axle_height_mm,
            planned_shaft_height_mm=plan.shaft_height_mm,
            random_mm=_READ.random,
            systematic_mm=_READ.systematic,
        )

    def typed(self) -> dict[str, str]:
        """Give what was typed, field by field; what was left empty is left out."""
        texts = {name: str(self.data.get(name, "")).strip() for name in self.fields}
        return {name: text for name, text in texts.items() if text}


def _known(size: float) -> float | None:
    return None if math.isnan(size) else size


def _or(size: float, otherwise: float) -> float:
    return otherwise if math.isnan(size) else size
