"""
Readings that are asked about before they are believed.

Nothing is corrected: a suggestion is made, and a person answers.  Value and
range in the quantity's unit; one reading in, one answer out, arrays likewise.
"""

from typing import overload

import numpy as np

from inventory.compute.arrays import Bools, Floats
from inventory.compute.numbers.units import Unit

_SHIFTS = np.array([0.001, 0.01, 0.1, 10.0, 100.0, 1000.0])
_INCH = np.array([1 / 25.4, 25.4])


@overload
def slip_of_the_decimal(
    value: float, *, low: float, high: float, unit: Unit = Unit.MILLIMETRE
) -> float | None: ...
@overload
def slip_of_the_decimal(
    value: Floats,
    *,
    low: float | Floats,
    high: float | Floats,
    unit: Unit = Unit.MILLIMETRE,
) -> Floats: ...
def slip_of_the_decimal(
    value: float | Floats,
    *,
    low: float | Floats,
    high: float | Floats,
    unit: Unit = Unit.MILLIMETRE,
) -> float | Floats | None:
    """
    Suggest what an implausible reading was meant to be.

    Parameters
    ----------
    value : float or array of float
        Reading as it was taken.
    low, high : float or array of float
        The quantity's plausible range, both ends inside.
    unit : Unit, optional
        Unit of all three; only a length can be an inch taken for a millimetre.

    Returns
    -------
    float or None, or array of float
        The one value in range among value ×÷ 10, 100, 1000 and, for a length,
        25.4.  None (NaN in an array) if the reading is plausible, if nothing
        fits, or if two do.

    Examples
    --------
    >>> slip_of_the_decimal(1234.0, low=8.0, high=32.0)
    12.34
    >>> slip_of_the_decimal(0.5, low=8.0, high=32.0)
    12.7
    """
    shifts = np.append(_SHIFTS, _INCH) if unit is Unit.MILLIMETRE else _SHIFTS
    values = np.asarray(value, dtype=np.float64)
    lows, highs = np.asarray(low)[..., None], np.asarray(high)[..., None]
    with np.errstate(over="ignore"):
        meant = np.round(values[..., None] * shifts, 6)
        plausible = _within(values[..., None], lows, highs).all(axis=-1)
    fits = _within(meant, lows, highs)
    alone = ~plausible & (fits.sum(axis=-1) == 1)
    slips = np.where(alone, np.where(fits, meant, 0.0).sum(axis=-1), np.nan)
    if slips.ndim:
        return slips
    return float(slips) if alone else None


@overload
def differs_from_last(
    value: float,
    *,
    last: float,
    standard_uncertainty: float,
    allowance: float = 0.3,
) -> bool: ...
@overload
def differs_from_last(
    value: Floats,
    *,
    last: float | Floats,
    standard_uncertainty: float | Floats,
    allowance: float = 0.3,
) -> Bools: ...
def differs_from_last(
    value: float | Floats,
    *,
    last: float | Floats,
    standard_uncertainty: float | Floats,
    allowance: float = 0.3,
) -> bool | Bools:
    """
    Whether a reading is so far from the car's last one that it is asked about.

    Parameters
    ----------
    value, last : float or array of float
        This reading and the last one; NaN in an array: nothing to compare.
    standard_uncertainty : float or array of float
        Of the reading.
    allowance : float, optional
        What wear and adjustment may change besides, 0.3 mm for a length.

    Returns
    -------
    bool or array of bool
        True beyond 5u and the allowance.

    Examples
    --------
    >>> differs_from_last(12.34, last=12.8, standard_uncertainty=0.012)
    True
    """
    gap = np.round(np.abs(np.subtract(value, last)), 6)
    far = gap > np.round(np.multiply(5.0, standard_uncertainty) + allowance, 6)
    return np.asarray(far) if np.ndim(far) else bool(far)


def _within(values: Floats, low: Floats, high: Floats) -> Bools:
    rounded = np.round(values, 6)
    inside: Bools = (rounded >= np.round(low, 6)) & (rounded <= np.round(high, 6))
    return inside
