"""What to set up in a jig, and what was found after soldering, in sentences."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.jig import BuildCheck, BuildRow, JigSheet
from inspection.compute.quantities import Side
from inventory.compute.numbers import Unit, format_value
from inventory.words.enumerations import word_of

_SITS: Final = gettext_lazy(
    "The %(side)s wheel sits %(by)s higher than the %(other)s one."
)
_SQUARE: Final = gettext_lazy(
    "The axle is %(angle)s out of square: rolling freely the car goes %(drift)s to the "
    "%(side)s in a metre."
)
_OFF: Final = gettext_lazy("The front %(side)s wheel is %(by)s off the block.")
#: What a check found, of a value that is negative and of one that is positive.
_FOUND: Final[Mapping[BuildCheck, tuple[Promise, Promise]]] = MappingProxyType(
    {
        BuildCheck.AXLE_LEVEL: (_SITS, _SITS),
        BuildCheck.AXLE_SQUARE: (_SQUARE, _SQUARE),
        BuildCheck.MOTOR_AXLE_OFFSET: (
            gettext_lazy("The motor's shaft is %(by)s above where the gear wants it."),
            gettext_lazy("The motor's shaft is %(by)s below where the gear wants it."),
        ),
        BuildCheck.ROCKING: (_OFF, _OFF),
        BuildCheck.AXLE_HEIGHT: (
            gettext_lazy(
                "The axle came out %(came)s over the underside, %(planned)s was "
                "planned: %(by)s lower, and the rear as much further from the track."
            ),
            gettext_lazy(
                "The axle came out %(came)s over the underside, %(planned)s was "
                "planned: %(by)s higher, and the rear as much nearer to the track."
            ),
        ),
        BuildCheck.SHAFT_HEIGHT: (
            gettext_lazy(
                "The motor's shaft came out %(came)s over the underside, %(planned)s "
                "was planned: %(by)s lower."
            ),
            gettext_lazy(
                "The motor's shaft came out %(came)s over the underside, %(planned)s "
                "was planned: %(by)s higher."
            ),
        ),
    }
)
_RESET: Final = gettext_lazy(
    "Reset the axle tube: lower its %(side)s end or raise its %(other)s end until both "
    "heights read %(came)s."
)
_MOVE: Final = gettext_lazy(
    "Move the %(side)s end %(ends)s forward, or the %(other)s end as much back, "
    "measured where the distances were taken."
)
_LOWER: Final = gettext_lazy(
    "Lower the front %(side)s wheel or raise the front %(other)s one until a %(limit)s "
    "feeler no longer goes under."
)
#: What to do about it.
_ADVICE: Final[Mapping[BuildCheck, tuple[Promise, Promise]]] = MappingProxyType(
    {
        BuildCheck.AXLE_LEVEL: (_RESET, _RESET),
        BuildCheck.AXLE_SQUARE: (_MOVE, _MOVE),
        BuildCheck.MOTOR_AXLE_OFFSET: (
            gettext_lazy(
                "Move the motor %(by)s down, or set the axle as much the other way."
            ),
            gettext_lazy(
                "Move the motor %(by)s up, or set the axle as much the other way."
            ),
        ),
        BuildCheck.ROCKING: (_LOWER, _LOWER),
        BuildCheck.AXLE_HEIGHT: (
            gettext_lazy(
                "Set the axle %(by)s up, or take the figures of the chassis as it is."
            ),
            gettext_lazy(
                "Set the axle %(by)s down, or take the figures of the chassis as it is."
            ),
        ),
        BuildCheck.SHAFT_HEIGHT: (
            gettext_lazy("Set the motor %(by)s up."),
            gettext_lazy("Set the motor %(by)s down."),
        ),
    }
)


def set_up_words(sheet: JigSheet) -> tuple[str, ...]:
    """
    Say step by step what to set up.

    Parameters
    ----------
    sheet : JigSheet
        What goes under the chassis.

    Returns
    -------
    tuple of str
        Sentences.
    """
    spacer = sheet.spacer_mm
    if sheet.least_tyre_mm is not None:
        filled_in = {"by": _mm(-2.0 * spacer), "least": _mm(sheet.least_tyre_mm)}
        words = _(
            "The jig tyres are too small by %(by)s: tyres of at least %(least)s are "
            "needed."
        )
        return (words % filled_in,)
    steps = [
        _("Set %(spacer)s under the flat of the chassis.") % {"spacer": _mm(spacer)}
    ]
    if sheet.stack is not None:
        away = round(sheet.stack.total_mm - spacer, 3)
        filled_in = {
            "shims": " + ".join(f"{shim:g}" for shim in sheet.stack.shims_mm)
            or _("no shim"),
            "total": _mm(sheet.stack.total_mm),
            "away": _mm(abs(away)),
        }
        if not away:
            steps.append(_("Stack %(shims)s: %(total)s.") % filled_in)
        elif away > 0:
            steps.append(_("Stack %(shims)s: %(total)s, %(away)s over.") % filled_in)
        else:
            steps.append(_("Stack %(shims)s: %(total)s, %(away)s short.") % filled_in)
    return tuple(steps)


def build_words(row: BuildRow) -> str:
    """
    Say what a check after soldering found.

    Parameters
    ----------
    row : BuildRow
        The check.

    Returns
    -------
    str
        A sentence.
    """
    below, above = _FOUND[row.check]
    return str(above if row.value > 0.0 else below) % _figures(row)


def build_advice(row: BuildRow) -> str:
    """
    Say what to do about a check that does not hold.

    Parameters
    ----------
    row : BuildRow
        The check.

    Returns
    -------
    str
        A sentence; empty where it holds.
    """
    if row.holds:
        return ""
    below, above = _ADVICE[row.check]
    return str(above if row.value > 0.0 else below) % _figures(row)


def _figures(row: BuildRow) -> dict[str, str]:
    sides = (Side.LEFT, Side.RIGHT) if row.value > 0.0 else (Side.RIGHT, Side.LEFT)
    # With the front right contact high the car rocks over the other diagonal just
    # the same as with the front left one low.
    side, other = sides[::-1] if row.check is BuildCheck.ROCKING else sides
    return {
        "side": word_of(side),
        "other": word_of(other),
        "by": _mm(abs(row.value)),
        "angle": format_value(abs(row.value), decimals=2, unit=Unit.DEGREE),
        "limit": _mm(row.limit),
        "came": _mm(row.came_mm),
        "planned": _mm(row.planned_mm),
        "drift": _mm(abs(row.drift_mm), 1),
        "ends": _mm(abs(row.ends_mm)),
    }


def _mm(value: float, decimals: int = 2) -> str:
    return format_value(value, decimals=decimals, unit=Unit.MILLIMETRE)
