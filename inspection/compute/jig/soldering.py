"""
A soldered chassis: level, square, shaft in line, all wheels down, and as planned.

Readings taken on the block, in millimetres; each check says how well its figure is
known, and what to do about it.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from inspection.compute.geometry import (
    axle_drift_mm_per_metre,
    axle_level_mm,
    axle_square_deg,
    motor_axle_offset_mm,
)
from inventory.compute.errors import ComputeError

#: More out of level at the wheels is worth resetting; common practice.
LEVEL_LIMIT_MM: Final = 0.1
#: Further out of square is worth resetting: 3.5 mm in a metre; common practice.
SQUARE_LIMIT_DEG: Final = 0.2
#: Shaft to axle line, where the class says nothing; common practice.
OFFSET_LIMIT_MM: Final = 0.25
#: A wheel further off the block rocks; common practice.
ROCKING_LIMIT_MM: Final = 0.1
#: Axle or shaft further from where the jig set them; common practice.
PLAN_LIMIT_MM: Final = 0.1
#: Guard band over u at 95 %, one-sided: JCGM 106:2012, 8.3.2.
_GUARD: Final = 1.645


class NotAJigSizeError(ComputeError):
    """A size that the jig needs is missing or not positive."""

    code = "not_a_jig_size"


class BuildCheck(StrEnum):
    """What is looked at when the chassis has been soldered."""

    AXLE_LEVEL = "axle level"
    AXLE_SQUARE = "axle square"
    MOTOR_AXLE_OFFSET = "motor-axle offset"
    ROCKING = "rocking"
    AXLE_HEIGHT = "axle height as planned"
    SHAFT_HEIGHT = "shaft height as planned"


@dataclass(frozen=True, kw_only=True)
class SolderedChassis:
    """
    Readings taken on the block after soldering; ``None`` was not taken.

    ``planned_…`` is what the jig was set up for.  ``random_mm`` and ``systematic_mm``
    are the standard uncertainties of one reading: its own, and what all readings by
    one gauge share, which drops out of a difference.
    """

    axle_height_left_mm: float | None = None
    axle_height_right_mm: float | None = None
    station_span_mm: float | None = None
    track_mm: float | None = None
    axle_to_reference_left_mm: float | None = None
    axle_to_reference_right_mm: float | None = None
    reference_span_mm: float | None = None
    motor_axis_height_mm: float | None = None
    gear_design_offset_mm: float = 0.0
    twist_mm: float | None = None
    level_limit_mm: float = LEVEL_LIMIT_MM
    square_limit_deg: float = SQUARE_LIMIT_DEG
    offset_limit_mm: float = OFFSET_LIMIT_MM
    rocking_limit_mm: float = ROCKING_LIMIT_MM
    planned_axle_height_mm: float | None = None
    planned_shaft_height_mm: float | None = None
    plan_limit_mm: float = PLAN_LIMIT_MM
    random_mm: float = 0.0
    systematic_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class BuildRow:
    """
    One check after soldering.

    ``u`` is the value's standard uncertainty; nearer to the limit than its guard band
    the check is too close to call.  ``came_mm`` is the height that axle or shaft came
    out at, ``planned_mm`` what was planned; ``drift_mm`` how far a car with an axle out
    of square goes aside in a metre, ``ends_mm`` the left end of such an axle less the
    right one, measured where the distances were taken.  NaN where a check has none.
    """

    check: BuildCheck
    value: float
    limit: float
    margin: float
    holds: bool
    u: float = 0.0
    came_mm: float = math.nan
    planned_mm: float = math.nan
    drift_mm: float = math.nan
    ends_mm: float = math.nan

    @property
    def is_close(self) -> bool:
        """Whether the doubt is as large as the distance to the limit."""
        return abs(self.margin) < _GUARD * self.u


def after_soldering(chassis: SolderedChassis) -> tuple[BuildRow, ...]:
    """
    Check a soldered chassis.

    Parameters
    ----------
    chassis : SolderedChassis
        Readings, mm; a check whose readings were not taken is left out.

    Returns
    -------
    tuple of BuildRow
        Level, square, motor-axle offset, rocking, and axle and shaft against the
        plan, in that order.

    Raises
    ------
    NotAJigSizeError
        If a distance between two places of measurement is not positive.

    Examples
    --------
    >>> level = after_soldering(
    ...     SolderedChassis(
    ...         axle_height_left_mm=9.54,
    ...         axle_height_right_mm=9.67,
    ...         station_span_mm=60.0,
    ...         track_mm=60.0,
    ...     )
    ... )[0]
    >>> round(level.value, 3), level.holds
    (-0.13, False)
    """
    rows = (
        _level(chassis),
        _square(chassis),
        _offset(chassis),
        _rocking(chassis),
        _axle_planned(chassis),
        _shaft_planned(chassis),
    )
    return tuple(row for row in rows if row is not None)


def _level(chassis: SolderedChassis) -> BuildRow | None:
    given = _all_known(
        chassis.axle_height_left_mm,
        chassis.axle_height_right_mm,
        chassis.station_span_mm,
        chassis.track_mm,
    )
    if given is None:
        return None
    left, right, span, track = given
    check_sizes(("Span of the axle heights", span), ("Track", track))
    value = float(axle_level_mm([left, right], span_mm=span, track_mm=track))
    return _row(
        BuildCheck.AXLE_LEVEL,
        value,
        chassis.level_limit_mm,
        came_mm=(left + right) / 2.0,
        u=math.sqrt(2.0) * chassis.random_mm * track / span,
    )


def _square(chassis: SolderedChassis) -> BuildRow | None:
    given = _all_known(
        chassis.axle_to_reference_left_mm,
        chassis.axle_to_reference_right_mm,
        chassis.reference_span_mm,
    )
    if given is None:
        return None
    left, right, span = given
    check_sizes(("Span of the distances to the reference", span))
    value = float(axle_square_deg([left, right], span_mm=span))
    drift = float(axle_drift_mm_per_metre([left, right], span_mm=span))
    return _row(
        BuildCheck.AXLE_SQUARE,
        value,
        chassis.square_limit_deg,
        drift_mm=drift,
        ends_mm=left - right,
        # d atan(x) = dx / (1 + x²).
        u=math.degrees(
            math.sqrt(2.0)
            * chassis.random_mm
            / span
            * math.cos(math.radians(value)) ** 2
        ),
    )


def _offset(chassis: SolderedChassis) -> BuildRow | None:
    given = _all_known(
        chassis.axle_height_left_mm,
        chassis.axle_height_right_mm,
        chassis.motor_axis_height_mm,
    )
    if given is None:
        return None
    left, right, axis = given
    meant = chassis.gear_design_offset_mm
    value = float(
        motor_axle_offset_mm([left, right], motor_axis_mm=axis, gear_offset_mm=meant)
    )
    return _row(
        BuildCheck.MOTOR_AXLE_OFFSET,
        value,
        chassis.offset_limit_mm,
        # The mean of two readings, less a third.
        u=math.sqrt(1.5) * chassis.random_mm,
    )


def _rocking(chassis: SolderedChassis) -> BuildRow | None:
    if chassis.twist_mm is None:
        return None
    return _row(
        BuildCheck.ROCKING,
        chassis.twist_mm,
        chassis.rocking_limit_mm,
        u=math.hypot(chassis.random_mm, chassis.systematic_mm),
    )


def _axle_planned(chassis: SolderedChassis) -> BuildRow | None:
    given = _all_known(
        chassis.axle_height_left_mm,
        chassis.axle_height_right_mm,
        chassis.planned_axle_height_mm,
    )
    if given is None:
        return None
    left, right, planned = given
    came = (left + right) / 2.0
    return _row(
        BuildCheck.AXLE_HEIGHT,
        came - planned,
        chassis.plan_limit_mm,
        came_mm=came,
        planned_mm=planned,
        u=math.hypot(chassis.random_mm / math.sqrt(2.0), chassis.systematic_mm),
    )


def _shaft_planned(chassis: SolderedChassis) -> BuildRow | None:
    given = _all_known(chassis.motor_axis_height_mm, chassis.planned_shaft_height_mm)
    if given is None:
        return None
    came, planned = given
    return _row(
        BuildCheck.SHAFT_HEIGHT,
        came - planned,
        chassis.plan_limit_mm,
        came_mm=came,
        planned_mm=planned,
        u=math.hypot(chassis.random_mm, chassis.systematic_mm),
    )


def _row(
    check: BuildCheck,
    value: float,
    limit: float,
    **figures: float,
) -> BuildRow:
    # A reading typed as the limit is at the limit: 9.64 - 9.54 is above 0.1.
    margin = round(limit - abs(value), 6)
    return BuildRow(
        check=check,
        value=value,
        limit=limit,
        margin=margin,
        holds=margin >= 0.0,
        **figures,
    )


def _all_known(*readings: float | None) -> tuple[float, ...] | None:
    known = tuple(reading for reading in readings if reading is not None)
    if len(known) < len(readings):
        return None
    check_finite(*known)
    return known


def check_sizes(*sizes: tuple[str, float]) -> None:
    """
    Refuse a size that is not positive.

    Parameters
    ----------
    *sizes : tuple of str and float
        What it is, and how much, mm.

    Raises
    ------
    NotAJigSizeError
        With the first that is not positive and finite.
    """
    for name, size in sizes:
        if not (size > 0.0 and math.isfinite(size)):
            msg = f"{name} {size:g} mm: a positive size was expected."
            raise NotAJigSizeError(msg)


def check_finite(*figures: float) -> None:
    """
    Refuse a figure that is no number.

    Parameters
    ----------
    *figures : float
        Lengths, mm, of either sign.

    Raises
    ------
    NotAJigSizeError
        With the first that is not finite.
    """
    for figure in figures:
        if not math.isfinite(figure):
            msg = f"{figure:g} mm: a number was expected."
            raise NotAJigSizeError(msg)
