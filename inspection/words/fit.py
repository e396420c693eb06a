"""What a check of a fit found, in sentences."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

import numpy as np
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.fit import (
    DECIMALS,
    Bored,
    Check,
    CheckRow,
    CheckState,
    CoarseBore,
    KindsOfGear,
    ToMeasure,
    TwoPitches,
)
from inspection.words.quantities import quantity_name
from inspection.words.rooms import HOW_TAKEN
from inventory.compute.numbers import (
    Unit,
    decimals_beside,
    exact_decimals,
    format_u,
    format_value,
)
from inventory.words.enumerations import word_of

_LEAST_SHOWN: Final = 2

#: What a check's figure is; limits and margin follow it.
_SUBJECTS: Final[Mapping[Check, Promise]] = MappingProxyType(
    {
        Check.KIND: gettext_lazy("The gear's kind"),
        Check.BORE: gettext_lazy("Bore over shaft"),
        Check.PITCH: gettext_lazy("Difference between the two pitches"),
        Check.CROWN_CUT: gettext_lazy("Teeth of the pinion that the crown is cut for"),
        Check.TEETH: gettext_lazy("Teeth of the gear"),
        Check.RATIO: gettext_lazy("Ratio"),
        Check.ROLLOUT: gettext_lazy("Rollout"),
        Check.DIAMETER: gettext_lazy("Outside diameter"),
        Check.GROUND: gettext_lazy("Clearance over the track"),
        Check.CHASSIS_BAR: gettext_lazy("Gap to the chassis bar"),
        Check.ROOM: gettext_lazy("Hub width on the axle"),
        Check.MESH: gettext_lazy("Backlash at the best distance in the slot"),
        Check.CONTACT: gettext_lazy("Contact ratio there, if the pinion is enlarged"),
        Check.CONTACT_AS_CUT: gettext_lazy(
            "Contact ratio there, as a standard cutter makes the teeth"
        ),
        Check.CROWN_SEAT: gettext_lazy("Room left beside crown, hub and spacers"),
        Check.CROWN_FACE: gettext_lazy("Share of the teeth that the pinion covers"),
        Check.SHAFT_END: gettext_lazy("Gap from the shaft's end to the axle"),
        Check.MOTOR_AXLE_OFFSET: gettext_lazy(
            "Axle over the shaft, less the gear's own offset"
        ),
        Check.PINION_LENGTH: gettext_lazy("Length of the pinion on the shaft"),
        Check.TYRE_WIDTH: gettext_lazy("Tyre width"),
        Check.CAN_HEIGHT: gettext_lazy("Can height"),
        Check.CAN_WIDTH: gettext_lazy("Can width"),
        Check.CAN_LENGTH: gettext_lazy("Can length"),
        Check.LIFT: gettext_lazy("Lift that brings the shaft to the axle"),
    }
)
_SLOT: Final = gettext_lazy("%(slot_low_mm)s, %(slot_high_mm)s, and the teeth")
_TEETH: Final = gettext_lazy("the teeth of gear and pinion")
_OVER: Final = gettext_lazy("the gear over its teeth")
_BORED: Final[Mapping[Bored, Promise]] = MappingProxyType(
    {
        Bored.GEAR: gettext_lazy("the gear's bore by pin gauge, and the axle"),
        Bored.PINION: gettext_lazy(
            "the pinion's bore by pin gauge, and the motor's shaft"
        ),
        Bored.WHEELS: gettext_lazy("the wheels' bore by pin gauge, and the axle"),
    }
)
#: What each check rests on; sizes of the car's room by their names.
_TO_MEASURE: Final[Mapping[Check, Promise]] = MappingProxyType(
    {
        Check.KIND: gettext_lazy("the gear's kind"),
        Check.PITCH: gettext_lazy("teeth and outside diameter of gear and pinion"),
        Check.CROWN_CUT: gettext_lazy("the pinion's teeth"),
        Check.TEETH: _TEETH,
        Check.RATIO: _TEETH,
        Check.ROLLOUT: gettext_lazy("the rear tyres, and the teeth of gear and pinion"),
        Check.DIAMETER: _OVER,
        Check.GROUND: _OVER,
        Check.CHASSIS_BAR: gettext_lazy(
            "the gear over its teeth, and %(axle_to_bar_mm)s"
        ),
        Check.ROOM: gettext_lazy("the hub's width, and %(axle_room_mm)s"),
        Check.MESH: _SLOT,
        Check.CONTACT: _SLOT,
        Check.CONTACT_AS_CUT: _SLOT,
        Check.CROWN_SEAT: gettext_lazy(
            "the crown's depth and hub, the pinion, %(shaft_to_bearing_mm)s, and "
            "%(spacers_mm)s"
        ),
        Check.CROWN_FACE: gettext_lazy(
            "the faces of crown and pinion, the crown over its teeth, the shaft's bare "
            "length, and %(shaft_end_mm)s"
        ),
        Check.SHAFT_END: gettext_lazy("the axle, and %(shaft_end_mm)s"),
        Check.MOTOR_AXLE_OFFSET: gettext_lazy(
            "the axle's heights and the motor's lift"
        ),
        Check.PINION_LENGTH: gettext_lazy(
            "the pinion's length, and the bare length of the motor's shaft"
        ),
        Check.TYRE_WIDTH: gettext_lazy("the tyre's width, and %(arch_width_mm)s"),
        Check.CAN_HEIGHT: gettext_lazy("the can's height, and %(bay_height_mm)s"),
        Check.CAN_WIDTH: gettext_lazy("the can's width, and %(bay_width_mm)s"),
        Check.CAN_LENGTH: gettext_lazy("the can's length, and %(bay_length_mm)s"),
        Check.LIFT: gettext_lazy(
            "the axle's heights, the can's height, %(lift_low_mm)s, and "
            "%(lift_high_mm)s"
        ),
    }
)
_AS_IF_PARALLEL: Final = gettext_lazy(
    "as if the axes were parallel; an anglewinder's crossed axes are not checked"
)
#: What a figure alone does not say.
_NOTES: Final[Mapping[Check, Promise]] = MappingProxyType(
    {
        Check.PITCH: gettext_lazy("declared to be of one family"),
        Check.GROUND: gettext_lazy("no least gap is asked for, so it is not checked"),
        Check.MESH: _AS_IF_PARALLEL,
        Check.CONTACT: _AS_IF_PARALLEL,
        Check.CONTACT_AS_CUT: _AS_IF_PARALLEL,
    }
)
_RUNS_ROUGH: Final = gettext_lazy(
    "below 1 a tooth lets go before the next takes over: a pinion undercut by a "
    "standard cutter runs rough, an enlarged one does not"
)


def check_words(row: CheckRow) -> str:
    """
    Say what a check found: value, limit and margin.

    Parameters
    ----------
    row : CheckRow
        A check.

    Returns
    -------
    str
        A sentence.
    """
    if row.state is CheckState.NOT_MEASURED:
        filled_in = {"what": _subject(row), "sizes": to_measure_words(row.to_measure)}
        return _("%(what)s: not known yet. Measure %(sizes)s.") % filled_in
    if isinstance(row.detail, KindsOfGear):
        return kind_words(row.detail)
    ending = _ending(row)
    if isinstance(row.detail, CoarseBore) and row.state is CheckState.HOLDS:
        row = replace(row, lower=row.detail.lower, upper=row.detail.upper)
        ending = _("one size, as far as it was read: try how tightly it sits")
    limits = [row.lower, row.upper]
    filled_in = {
        "what": _subject(row),
        "value": _figure(row.value, row.unit, decimals=_beside(row.value, limits)),
        "limits": _limits(row),
        "ending": ending,
    }
    return _("%(what)s: %(value)s, %(limits)s; %(ending)s.") % filled_in


def kind_words(kinds: KindsOfGear) -> str:
    """
    Say which kind a gear is and which the car needs.

    Parameters
    ----------
    kinds : KindsOfGear
        The two.

    Returns
    -------
    str
        A sentence.
    """
    kind_there, needed = kinds.found, word_of(kinds.needed)
    if kind_there is kinds.needed:
        return _("This is a %(kind)s, as the car needs.") % {"kind": needed}
    kind = _("gear of another kind") if kind_there is None else word_of(kind_there)
    filled_in = {"kind": kind, "needed": needed}
    return _("This is a %(kind)s; the car needs a %(needed)s.") % filled_in


def pitch_words(pitches: TwoPitches) -> str:
    """
    Say that two gears are of pitches that do not run together.

    Parameters
    ----------
    pitches : TwoPitches
        The two.

    Returns
    -------
    str
        A sentence.
    """
    words = (
        _(
            "Wrong pitch: this is %(this)s, your gear %(other)s; they cannot run "
            "together."
        )
        if pitches.is_pinion
        else _(
            "Wrong pitch: this is %(this)s, your pinion %(other)s; they cannot run "
            "together."
        )
    )
    return words % {"this": _pitch(pitches.this), "other": _pitch(pitches.other)}


def to_measure_words(what: ToMeasure) -> str:
    """
    Name what is to be measured before a check can be made.

    Parameters
    ----------
    what : ToMeasure
        The check, and what of it is its own.

    Returns
    -------
    str
        As it stands behind “measure”.
    """
    if what.quantities:
        return "; ".join(quantity_name(key).lower() for key in what.quantities)
    if what.bored is not None:
        return str(_BORED[what.bored])
    return str(_TO_MEASURE[what.check]) % HOW_TAKEN


def _pitch(pitch: tuple[float, str]) -> str:
    module_mm, name = pitch
    if name:
        return name.removesuffix(" pitch")
    return _("module %(n)s") % {"n": f"{module_mm:.3f}"}


def _subject(row: CheckRow) -> str:
    return quantity_name(row.quantity) if row.quantity else str(_SUBJECTS[row.check])


def _ending(row: CheckRow) -> str:
    note = str(_NOTES.get(row.check, ""))
    is_as_cut = row.check is Check.CONTACT_AS_CUT
    match row.state:
        case CheckState.NOT_CHECKED:
            words = note
        case CheckState.WARNS:
            words = str(_RUNS_ROUGH) if is_as_cut else word_of(row.state)
        case CheckState.TOO_CLOSE:
            words = _too_close(row)
        case CheckState.FAILS:
            words = _("%(away)s outside") % {"away": _away(-row.margin, row.unit)}
        case _ if is_as_cut:
            words = word_of(CheckState.HOLDS)
        case _ if np.isinf(row.margin):
            words = note or word_of(CheckState.HOLDS)
        case _:
            words = _("%(away)s to spare") % {"away": _away(row.margin, row.unit)}
    return words


def _too_close(row: CheckRow) -> str:
    is_length = row.unit == Unit.MILLIMETRE
    doubt = format_u(row.u, unit=Unit.MILLIMETRE if is_length else Unit.ONE)
    filled_in = {
        "away": _away(abs(row.margin), row.unit),
        "u": doubt if is_length else _with_unit(doubt, row.unit),
    }
    if row.margin >= 0.0:
        return _("%(away)s inside, where u is %(u)s: too close to call") % filled_in
    return _("%(away)s outside, where u is %(u)s: too close to call") % filled_in


def _figure(value: float, unit: str, *, decimals: int) -> str:
    if unit == "teeth":
        return _with_unit(f"{value:g}", unit)
    if unit == Unit.MILLIMETRE:
        return format_value(value, decimals=decimals, unit=Unit.MILLIMETRE)
    return _with_unit(format_value(value, decimals=decimals), unit)


def _with_unit(number: str, unit: str) -> str:
    if unit == "teeth":
        return _("%(n)s teeth") % {"n": number}
    return f"{number} {unit}".rstrip()


def _away(margin: float, unit: str) -> str:
    return _figure(margin, unit, decimals=_beside(margin, [0.0]))


def _beside(value: float, limits: list[float]) -> int:
    return decimals_beside(value, limits, decimals=_LEAST_SHOWN)


def _limit(row: CheckRow, limit: float, unit: str) -> str:
    decimals = exact_decimals(limit, least=_LEAST_SHOWN)
    if row.check is Check.MESH:
        # A share of the module, which nobody wrote: enough to tell it from the value.
        decimals = decimals_beside(limit, [row.value], decimals=_LEAST_SHOWN)
    return _figure(limit, unit, decimals=decimals)


def _limits(row: CheckRow) -> str:
    low, high = row.lower, row.upper
    if not np.isfinite([low, high]).any():
        return _("no limit")
    if not np.isfinite(low):
        return _("at most %(limit)s") % {"limit": _limit(row, high, row.unit)}
    if not np.isfinite(high):
        return _("at least %(limit)s") % {"limit": _limit(row, low, row.unit)}
    if round(high - low, DECIMALS) <= 0.0:
        return _("exactly %(limit)s wanted") % {"limit": _limit(row, low, row.unit)}
    filled_in = {"low": _limit(row, low, ""), "high": _limit(row, high, row.unit)}
    return _("%(low)s to %(high)s wanted") % filled_in
