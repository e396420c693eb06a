"""
Tyre sizes: from which rear diameter to which a car is legal.

Both rear tyres alike, everything else as it is; millimetres.  Only rules that
tyres move count, at their limits themselves.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.changes import TYRES, with_tyres
from inspection.compute.fields import Field
from inspection.compute.legality import (
    mandatory_margins,
    nearest_run,
    rear_tyres,
    rests_on,
)
from inspection.compute.moved_clearances import SOMEWHERE
from inspection.compute.quantities import QUANTITIES
from inspection.compute.rules import Rules

Floats: TypeAlias = NDArray[np.float64]
Counts: TypeAlias = NDArray[np.int64]

_STEPS_A_MM: Final = 1000
_FINE_STEPS: Final = 50


@dataclass(frozen=True, kw_only=True)
class TyreSizes:
    """
    The range of rear diameters that a car may wear, nearest to what it wears now.

    ``lowest_mm`` and ``highest_mm`` are NaN where no size is legal;
    ``lowest_rule`` and ``highest_rule`` are places of the rules that govern, None
    where the range of plausible tyres ends first.
    """

    lowest_mm: float
    highest_mm: float
    lowest_rule: int | None
    highest_rule: int | None


def legal_tyre_sizes(rulebook: Rules, car: Field) -> TyreSizes:
    """
    Find the rear diameters at which a car keeps every rule that tyres move.

    Scanned in steps of 0.05 mm and narrowed to 0.001 mm; of several ranges the one
    nearest to the present tyres is meant.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.

    Returns
    -------
    TyreSizes
        Lowest and highest, mm, and which rules govern.

    Raises
    ------
    NotOneCarError
        If the field is not of one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.
    """
    now_mm = rear_tyres(car).mean_mm
    moved = rests_on(rulebook, car, (*TYRES, *SOMEWHERE))

    def margins_at(count: Counts) -> Floats:
        size_mm = count / _STEPS_A_MM
        found = mandatory_margins(rulebook, with_tyres(car, size_mm, size_mm))
        return np.where(moved, found, np.nan)

    plausible = QUANTITIES["tyre_diameter_rear"]
    ends = np.array([plausible.low, plausible.high])
    low, high = np.rint(ends * _STEPS_A_MM).astype(np.int64).tolist()
    coarse = np.arange(low, high + 1, _FINE_STEPS)
    legal = np.all(~(margins_at(coarse) < 0.0), axis=1)
    if not legal.any():
        return TyreSizes(
            lowest_mm=math.nan, highest_mm=math.nan, lowest_rule=None, highest_rule=None
        )
    run = nearest_run(legal, abs(coarse / _STEPS_A_MM - now_mm))
    lowest, lowest_rule = int(coarse[run.first]), None
    highest, highest_rule = int(coarse[run.last]), None
    if run.first > 0:
        lowest, lowest_rule = _edge(margins_at, lowest, step=-1)
    if run.last < len(coarse) - 1:
        highest, highest_rule = _edge(margins_at, highest, step=1)
    return TyreSizes(
        lowest_mm=lowest / _STEPS_A_MM,
        highest_mm=highest / _STEPS_A_MM,
        lowest_rule=lowest_rule,
        highest_rule=highest_rule,
    )


def _edge(
    margins_at: Callable[[Counts], Floats], inside: int, *, step: int
) -> tuple[int, int]:
    """Go on from a legal size in steps of 0.001 mm, and say what stops it."""
    sizes = inside + step * np.arange(1, _FINE_STEPS + 1)
    margin = margins_at(sizes)
    stop = int(np.flatnonzero((margin < 0.0).any(axis=1))[0])
    return inside + step * stop, int(np.nanargmin(margin[stop]))
