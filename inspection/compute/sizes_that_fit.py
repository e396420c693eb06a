"""
The largest gear and the smallest tyre that a car takes, and what governs.

One car; millimetres; rules count at their limits themselves.
"""

import math
from dataclasses import dataclass

import numpy as np

from inspection.compute.drive import BAR_GAP_MM
from inspection.compute.envelope import MOUNTING_SIZES, Envelope
from inspection.compute.fit_rows import Check
from inspection.compute.ground import gear_ground, missing_for_gear
from inspection.compute.legality import NotOneCarError, off_the_track
from inspection.compute.tyre_sizes import legal_tyre_sizes
from inventory.compute.errors import ComputeError
from inventory.compute.spurs import LEAST_TEETH


class NotMeasuredError(ComputeError):
    """A size of the car is missing; the text names what to measure."""

    code = "not_measured"


@dataclass(frozen=True, kw_only=True)
class LargestGear:
    """
    The largest gear that a car takes.

    ``governs`` is the check that keeps it from being larger; ``teeth`` the most that
    such a gear can have at the pinion's pitch, None where that is not known.
    """

    outside_diameter_mm: float
    governs: Check
    teeth: int | None


@dataclass(frozen=True, kw_only=True)
class SmallestTyre:
    """
    The smallest rear tyre that a car takes.

    ``governs`` is `Check.RULE` with the place of the ``rule``, `Check.GROUND` where
    the car would touch the track first, None where any plausible tyre will do;
    ``diameter_mm`` is NaN where none will.
    """

    diameter_mm: float
    governs: Check | None
    rule: int | None


def largest_gear(envelope: Envelope) -> LargestGear:
    """
    Find the largest gear that a car takes.

    Parameters
    ----------
    envelope : Envelope
        One car.

    Returns
    -------
    LargestGear
        True outside diameter, mm, and which check governs.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    NotMeasuredError
        If the ground or the bar is not known, with what to measure.
    """
    if envelope.car.cars != 1:
        msg = f"The largest gear is one car's; these are {envelope.car.cars}."
        raise NotOneCarError(msg)
    least = np.fmax(envelope.limits("clearance_gear").lower, 0.0)
    limits = {
        Check.GROUND: gear_ground(envelope.car).diameter_mm(least),
        Check.CHASSIS_BAR: 2.0 * (envelope.mounting.axle_to_bar_mm - BAR_GAP_MM),
    }
    _refuse_unknown(envelope, {check: float(d[0]) for check, d in limits.items()})
    limits[Check.DIAMETER] = envelope.limits("gear_diameter").upper
    diameters = {check: float(np.broadcast_to(d, 1)[0]) for check, d in limits.items()}
    governs = min(diameters, key=lambda one: _or_infinite(diameters[one]))
    largest = diameters[governs]
    module = float(envelope.pinion.module_mm[0])
    # A gear is m (z + 2) across.
    teeth = 0.0 if math.isnan(module) else math.floor(round(largest / module - 2.0, 6))
    return LargestGear(
        outside_diameter_mm=largest,
        governs=governs,
        teeth=int(teeth) if teeth >= LEAST_TEETH else None,
    )


def smallest_tyre(envelope: Envelope) -> SmallestTyre:
    """
    Find the smallest rear tyres, both alike, that a car takes as it is.

    Parameters
    ----------
    envelope : Envelope
        One car.

    Returns
    -------
    SmallestTyre
        Diameter, mm, and which check governs.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.
    """
    rulebook, car = off_the_track(envelope.rulebook, envelope.car)
    sizes = legal_tyre_sizes(rulebook, car)
    if sizes.lowest_rule is None:
        return SmallestTyre(diameter_mm=sizes.lowest_mm, governs=None, rule=None)
    if sizes.lowest_rule >= envelope.rulebook.count:
        return SmallestTyre(
            diameter_mm=sizes.lowest_mm, governs=Check.GROUND, rule=None
        )
    return SmallestTyre(
        diameter_mm=sizes.lowest_mm, governs=Check.RULE, rule=sizes.lowest_rule
    )


def _or_infinite(diameter_mm: float) -> float:
    return math.inf if math.isnan(diameter_mm) else diameter_mm


def _refuse_unknown(envelope: Envelope, diameters_mm: dict[Check, float]) -> None:
    missing = []
    if math.isnan(diameters_mm[Check.GROUND]):
        missing.append(missing_for_gear(envelope.car))
    if math.isnan(diameters_mm[Check.CHASSIS_BAR]):
        missing.append(MOUNTING_SIZES["axle_to_bar_mm"])
    if missing:
        msg = f"Measure {', '.join(missing)}."
        raise NotMeasuredError(msg)
