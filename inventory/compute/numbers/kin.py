"""
Slips of the decimal that stay inside what a quantity can be, told by its kin.

A clearance may be 0.2 to 5 mm, so 0.15 typed for 1.5 is no impossible one.  What the
other cars of a class have tells it: their middle and the median of their distances
from it, which a tenth of wild values does not move (Hampel, The influence curve and
its role in robust estimation, JASA 69, 1974), on the scale of factors, where a slip is
a step of ten.
"""

from dataclasses import dataclass
from math import log
from typing import Final, overload

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats

#: Fewer values than these tell nothing of a class.
LEAST_KIN: Final = 8
# From the median distance to a standard deviation, of a normal spread.
_TO_DEVIATION: Final = 1.4826
_DEVIATIONS: Final = 4.0
# No class is so alike that a factor of 1.65 is odd, and half a step of ten is the most
# that still tells a slip from what it was meant to be.
_NARROWEST, _WIDEST = 0.5, log(10) / 2 + 0.35


@dataclass(frozen=True, kw_only=True)
class Kin:
    """
    How the values of like things spread.

    Attributes
    ----------
    middle : float
        Their median.
    factor : float
        As far as this above and below it a value is nothing odd.

    Examples
    --------
    >>> Kin(middle=20.0, factor=1.25).low, Kin(middle=20.0, factor=1.25).high
    (16.0, 25.0)
    """

    middle: float
    factor: float

    @property
    def low(self) -> float:
        """The least that is nothing odd."""
        return self.middle / self.factor

    @property
    def high(self) -> float:
        """The greatest that is nothing odd."""
        return self.middle * self.factor


def kin_of(values: ArrayLike) -> Kin | None:
    """
    Tell how the values of like things spread.

    Parameters
    ----------
    values : (n,) array_like of float
        What is not above 0 is left out.

    Returns
    -------
    Kin or None
        None of fewer than eight.

    Examples
    --------
    >>> kin = kin_of([1.2, 1.3, 1.25, 1.4, 1.1, 1.3, 1.2, 12.0])
    >>> round(kin.middle, 2), round(kin.low, 2), round(kin.high, 2)
    (1.27, 0.77, 2.1)
    """
    table = np.asarray(values, dtype=np.float64)
    logs = np.log(table[table > 0])
    if logs.size < LEAST_KIN:
        return None
    middle = float(np.median(logs))
    deviation = _TO_DEVIATION * float(np.median(np.abs(logs - middle)))
    width = float(np.clip(_DEVIATIONS * deviation, _NARROWEST, _WIDEST))
    return Kin(middle=float(np.exp(middle)), factor=float(np.exp(width)))


@overload
def slip_among_kin(
    value: float, kin: Kin, *, low: float, high: float
) -> float | None: ...
@overload
def slip_among_kin(value: Floats, kin: Kin, *, low: float, high: float) -> Floats: ...
def slip_among_kin(
    value: float | Floats, kin: Kin, *, low: float, high: float
) -> float | Floats | None:
    """
    Suggest what a reading unlike all its kin was meant to be, if it is off by ten.

    Parameters
    ----------
    value : float or array of float
        Reading as it was taken.
    kin : Kin
        What like things have.
    low, high : float
        The quantity's plausible range.

    Returns
    -------
    float or None, or array of float
        The one of value x 10 and value / 10 that is like its kin, where the reading
        itself is not; None (NaN in an array) else.

    Examples
    --------
    >>> kin = kin_of([1.2, 1.3, 1.25, 1.4, 1.1, 1.3, 1.2, 1.2])
    >>> slip_among_kin(0.13, kin, low=0.0, high=5.0)
    1.3
    >>> slip_among_kin(0.9, kin, low=0.0, high=5.0)
    """
    values = np.asarray(value, dtype=np.float64)
    meant = np.round(np.stack((values * 10, values / 10)), 6)
    fits = (meant >= max(kin.low, low)) & (meant <= min(kin.high, high))
    odd = (values > 0) & ((values < kin.low) | (values > kin.high))
    slips = np.where(
        odd & fits.any(axis=0), np.where(fits[0], meant[0], meant[1]), np.nan
    )
    if slips.ndim:
        return slips
    return None if np.isnan(slips) else float(slips)
