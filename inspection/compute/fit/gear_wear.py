"""
Wear with another gear: how far the tyres may go down before a rule breaks.

Two parts: the rules that no gear moves, once for the car; and those that one does,
the clearance below it and the rollout, for all gears together.  Millimetres.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from inspection.compute.fit.checks import (
    DECIMALS,
)
from inspection.compute.fit.drive import Drive
from inspection.compute.fit.ground import gear_ground
from inspection.compute.what_if import (
    MOST_WEAR_MM,
    SOMEWHERE,
    TYRES,
    Change,
    columns_of_change,
    rear_tyres,
    rests_on,
    wear_limit,
    with_tyres,
)
from inventory.compute.arrays import Floats, Ints

_STEPS_A_MM: Final = 1000


def legal_to_mm(drive: Drive) -> Floats:
    """
    Say down to which tyres a car stays legal with each gear.

    Parameters
    ----------
    drive : Drive
        Rows of gears, or pinions, against one car.

    Returns
    -------
    (rows,) ndarray
        Mean diameter of the rear tyres, mm; minus infinity where no rule breaks within
        3 mm under the present one; NaN where a rule that tyres move is broken now, or
        the clearance is not known.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.
    """
    envelope, rulebook = drive.envelope, drive.envelope.rulebook
    tyres = rear_tyres(envelope.car)
    moved = rests_on(rulebook, envelope.car, (*TYRES, *SOMEWHERE))
    moved &= ~rests_on(rulebook, envelope.car, columns_of_change(Change.GEAR))
    others = replace(rulebook, mandatory=rulebook.mandatory & moved)
    limit = wear_limit(others, envelope.car)
    most = min(limit.wear, MOST_WEAR_MM)
    wear = np.arange(round(most * _STEPS_A_MM) + 1) / _STEPS_A_MM
    worn = with_tyres(envelope.car, tyres.left_mm - wear, tyres.right_mm - wear)
    limits = envelope.aims("clearance_gear")
    largest = gear_ground(worn).diameter_mm(np.fmax(limits.lower, 0.0))
    # A gear is stopped by the first tyre that is too small for it, whatever
    # happens further down.
    largest = np.minimum.accumulate(np.round(largest, DECIMALS))
    diameter = np.round(drive.gear.outside_diameter_mm, DECIMALS)
    allowed = np.searchsorted(-largest, -diameter, side="right")
    allowed = np.minimum(allowed, _rollout_allows(drive, wear, tyres.mean_mm))
    worn_to_mm = tyres.mean_mm - wear[np.maximum(allowed - 1, 0)]
    known = (allowed > 0) & ~np.isnan(diameter) & ~np.isnan(largest).any()
    known &= limit.wear > 0.0
    # Where the scan ends without a rule, the tyres are not at a limit.
    no_rule = (allowed >= len(wear)) & (limit.rule is None)
    return np.where(known, np.where(no_rule, -np.inf, worn_to_mm), np.nan)


def _rollout_allows(drive: Drive, wear: Floats, mean_mm: float) -> Ints:
    """Count the steps of wear at which the rollout is still long enough."""
    lower = drive.envelope.aims("rollout").lower
    ratio = drive.gear.teeth / drive.pinion.teeth
    least_mm = np.where(np.isnan(lower), -np.inf, lower * ratio / np.pi)
    spare_mm = np.round(mean_mm - least_mm, DECIMALS)
    return np.searchsorted(wear, spare_mm, side="right").astype(np.int64)
