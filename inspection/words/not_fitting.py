"""What a check that failed means, in the words of whoever asked whether it fits."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.fit import Check, CheckRow, CheckState, KindsOfGear, TwoPitches
from inspection.words.fit import check_words, kind_words, pitch_words
from inventory.compute.numbers import Unit, decimals_beside, format_value

#: By check: what a figure below its least means, and one above its most.
_WORDS: Final[Mapping[Check, tuple[str | Promise, str | Promise]]] = MappingProxyType(
    {
        Check.BORE: (
            gettext_lazy("Bore too small by %(miss)s: it does not go on the shaft."),
            gettext_lazy("Bore too large by %(miss)s: it sits loose on the shaft."),
        ),
        Check.CROWN_CUT: (
            gettext_lazy(
                "This crown is cut for a pinion of %(value)s, yours has %(limit)s."
            ),
            gettext_lazy(
                "This crown is cut for a pinion of %(value)s, yours has %(limit)s."
            ),
        ),
        Check.TEETH: (
            gettext_lazy("Too few teeth: %(value)s; at least %(limit)s are allowed."),
            gettext_lazy("Too many teeth: %(value)s; at most %(limit)s are allowed."),
        ),
        Check.RATIO: (
            gettext_lazy(
                "The ratio comes out at %(value)s; at least %(limit)s is allowed."
            ),
            gettext_lazy(
                "The ratio comes out at %(value)s; at most %(limit)s is allowed."
            ),
        ),
        Check.ROLLOUT: (
            gettext_lazy(
                "It rolls %(value)s a motor turn; at least %(limit)s is allowed."
            ),
            gettext_lazy(
                "It rolls %(value)s a motor turn; at most %(limit)s is allowed."
            ),
        ),
        Check.DIAMETER: (
            gettext_lazy(
                "Too small over its teeth: %(value)s; at least %(limit)s is allowed."
            ),
            gettext_lazy(
                "Too large over its teeth: %(value)s; at most %(limit)s is allowed."
            ),
        ),
        Check.GROUND: (
            gettext_lazy(
                "Too large for the ground: %(value)s over the track, %(limit)s is "
                "asked."
            ),
            gettext_lazy(
                "Too far off the ground: %(value)s, at most %(limit)s is allowed."
            ),
        ),
        Check.CHASSIS_BAR: (
            gettext_lazy(
                "Too large for the chassis: %(value)s to the bar, %(limit)s is needed."
            ),
            "",
        ),
        Check.ROOM: (
            "",
            gettext_lazy(
                "Too wide for the axle: its hub %(value)s, room for %(limit)s."
            ),
        ),
        Check.MESH: (
            gettext_lazy(
                "The gears jam: the motor's slot does not let them far enough apart."
            ),
            gettext_lazy(
                "The teeth hardly meet: the motor's slot does not let them near enough."
            ),
        ),
        Check.CONTACT: (
            gettext_lazy(
                "The teeth let go too early: contact ratio %(value)s, %(limit)s is "
                "needed."
            ),
            "",
        ),
        Check.CROWN_SEAT: (
            gettext_lazy("No seat for the crown: %(miss)s of room are missing."),
            "",
        ),
        Check.CROWN_FACE: (
            gettext_lazy(
                "Too little of the crown's teeth is covered: %(value)s, %(limit)s is "
                "needed."
            ),
            "",
        ),
        Check.SHAFT_END: (
            gettext_lazy(
                "The motor's shaft comes too near the axle: %(value)s, %(limit)s is "
                "needed."
            ),
            "",
        ),
        Check.MOTOR_AXLE_OFFSET: (
            gettext_lazy(
                "The motor's shaft is off the axle's line: %(value)s, %(limit)s is "
                "allowed."
            ),
            gettext_lazy(
                "The motor's shaft is off the axle's line: %(value)s, %(limit)s is "
                "allowed."
            ),
        ),
        Check.PINION_LENGTH: (
            "",
            gettext_lazy(
                "The pinion is too long: %(value)s, and %(limit)s of the shaft is bare."
            ),
        ),
        Check.TYRE_WIDTH: (
            "",
            gettext_lazy("Too wide for the arch: %(value)s, room for %(limit)s."),
        ),
        Check.CAN_HEIGHT: (
            "",
            gettext_lazy("The can is too high: %(value)s, room for %(limit)s."),
        ),
        Check.CAN_WIDTH: (
            "",
            gettext_lazy("The can is too wide: %(value)s, room for %(limit)s."),
        ),
        Check.CAN_LENGTH: (
            "",
            gettext_lazy("The can is too long: %(value)s, room for %(limit)s."),
        ),
        Check.LIFT: (
            gettext_lazy("The motor would have to sit %(miss)s lower than it can."),
            gettext_lazy("The motor would have to sit %(miss)s higher than it can."),
        ),
    }
)


def plain_words(row: CheckRow) -> str:
    """
    Say in plain words why a part does not fit.

    Parameters
    ----------
    row : CheckRow
        A check.

    Returns
    -------
    str
        What a failure means; of any other check its own sentence.

    Examples
    --------
    >>> from inspection.compute.fit import ToMeasure
    >>> wide = CheckRow(
    ...     check=Check.CAN_WIDTH,
    ...     state=CheckState.FAILS,
    ...     value=22.5,
    ...     lower=float("nan"),
    ...     upper=22.0,
    ...     margin=-0.5,
    ...     unit="mm",
    ...     to_measure=ToMeasure(check=Check.CAN_WIDTH),
    ... )
    >>> plain_words(wide)
    'The can is too wide: 22.50 mm, room for 22.00 mm.'
    """
    if row.state is not CheckState.FAILS:
        return check_words(row)
    if isinstance(row.detail, KindsOfGear):
        return kind_words(row.detail)
    if isinstance(row.detail, TwoPitches):
        return pitch_words(row.detail)
    is_below = bool(row.value < row.lower)
    words = _WORDS.get(row.check, ("", ""))[0 if is_below else 1]
    if not words:
        return check_words(row)
    if row.check is Check.GROUND and is_below and row.value < 0.0:
        filled_in = {"miss": _miss(row)}
        return (
            _("Too large for the ground: it would touch the track, %(miss)s deep.")
            % filled_in
        )
    limit = row.lower if is_below else row.upper
    return str(words) % {
        "value": _figure(row, row.value),
        "limit": _figure(row, limit),
        "miss": _miss(row),
    }


def _miss(row: CheckRow) -> str:
    away = abs(row.margin if np.isfinite(row.margin) else row.value)
    return _figure(row, away)


def _figure(row: CheckRow, value: float) -> str:
    if row.unit == "teeth":
        return _("%(n)s teeth") % {"n": f"{value:g}"}
    decimals = decimals_beside(value, [row.lower, row.upper], decimals=2)
    if row.unit == Unit.MILLIMETRE:
        return format_value(value, decimals=decimals, unit=Unit.MILLIMETRE)
    return f"{format_value(value, decimals=decimals)} {row.unit}".rstrip()
