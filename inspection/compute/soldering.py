"""
Straightness of a soldered chassis: level, square, shaft in line, all wheels down.

Readings taken on the block, in millimetres; each check says what to do about it.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from inspection.compute.axles import (
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


class NotAJigSizeError(ComputeError):
    """A size that the jig needs is missing or not positive."""

    code = "not_a_jig_size"


class BuildCheck(StrEnum):
    """What is looked at when the chassis has been soldered."""

    AXLE_LEVEL = "axle level"
    AXLE_SQUARE = "axle square"
    MOTOR_AXLE_OFFSET = "motor-axle offset"
    ROCKING = "rocking"


@dataclass(frozen=True, kw_only=True)
class SolderedChassis:
    """Readings taken on the block after soldering; ``None`` was not taken."""

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


@dataclass(frozen=True, kw_only=True)
class BuildRow:
    """One check after soldering, its sentence and what to do about it."""

    check: BuildCheck
    value: float
    limit: float
    margin: float
    holds: bool
    sentence: str
    advice: str


def after_soldering(chassis: SolderedChassis) -> tuple[BuildRow, ...]:
    """
    Check a soldered chassis, and say what to do about each fault.

    Parameters
    ----------
    chassis : SolderedChassis
        Readings, mm; a check whose readings were not taken is left out.

    Returns
    -------
    tuple of BuildRow
        Level, square, motor-axle offset and rocking, in that order.

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
    rows = (_level(chassis), _square(chassis), _offset(chassis), _rocking(chassis))
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
    high, low = ("left", "right") if value > 0 else ("right", "left")
    return _row(
        BuildCheck.AXLE_LEVEL,
        value,
        chassis.level_limit_mm,
        f"The {high} wheel sits {abs(value):.2f} mm higher than the {low} one.",
        f"Reset the axle tube: lower its {high} end or raise its {low} end until "
        f"both heights read {(left + right) / 2:.2f} mm.",
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
    back, ahead = ("left", "right") if value > 0 else ("right", "left")
    return _row(
        BuildCheck.AXLE_SQUARE,
        value,
        chassis.square_limit_deg,
        f"The axle is {abs(value):.2f}° out of square: rolling freely the car goes "
        f"{abs(drift):.1f} mm to the {back} in a metre.",
        f"Move the {back} end {abs(left - right):.2f} mm forward, or the {ahead} end "
        "as much back, measured where the distances were taken.",
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
    where, way = ("below", "up") if value > 0 else ("above", "down")
    return _row(
        BuildCheck.MOTOR_AXLE_OFFSET,
        value,
        chassis.offset_limit_mm,
        f"The motor's shaft is {abs(value):.2f} mm {where} where the gear wants it.",
        f"Move the motor {abs(value):.2f} mm {way}, or set the axle as much the "
        "other way.",
    )


def _rocking(chassis: SolderedChassis) -> BuildRow | None:
    if chassis.twist_mm is None:
        return None
    value = chassis.twist_mm
    # With the front right contact high the car rocks over the other diagonal just
    # the same as with the front left one low.
    high, low = ("right", "left") if value > 0 else ("left", "right")
    return _row(
        BuildCheck.ROCKING,
        value,
        chassis.rocking_limit_mm,
        f"The front {high} wheel is {abs(value):.2f} mm off the block.",
        f"Lower the front {high} wheel or raise the front {low} one until a "
        f"{chassis.rocking_limit_mm:.2f} mm feeler no longer goes under.",
    )


def _row(
    check: BuildCheck, value: float, limit: float, sentence: str, advice: str
) -> BuildRow:
    # A reading typed as the limit is at the limit: 9.64 - 9.54 is above 0.1.
    margin = round(limit - abs(value), 6)
    holds = margin >= 0.0
    return BuildRow(
        check=check,
        value=value,
        limit=limit,
        margin=margin,
        holds=holds,
        sentence=sentence,
        advice="" if holds else advice,
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
