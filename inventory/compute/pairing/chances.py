"""
The chance that a pair or set is what it says: inside the tolerance in truth.

Millimetres; the doubt of a pair is that of its difference, of a set that of each.
"""

from typing import ClassVar, Final, overload

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Floats
from inventory.compute.errors import ComputeError

#: Panels end so many standard uncertainties about each member, so that neither a
#: sharp nor a broad one falls between the nodes.
_PANEL_ENDS: Final = np.array([-8.0, -3.0, 0.0, 3.0, 8.0])
_NODES: Final = 10
_SETS_AT_ONCE: Final = 512


class NotADifferenceError(ComputeError):
    """A difference is no number, or its uncertainty or the tolerance negative."""

    code: ClassVar[str] = "not_a_difference"


@overload
def within_probability(
    difference_mm: float, u_mm: float, *, tolerance_mm: float
) -> float: ...
@overload
def within_probability(
    difference_mm: ArrayLike, u_mm: ArrayLike, *, tolerance_mm: float
) -> float | NDArray[np.float64]: ...
def within_probability(
    difference_mm: ArrayLike, u_mm: ArrayLike, *, tolerance_mm: float
) -> float | NDArray[np.float64]:
    """
    Give the chance that a pair's true difference is inside the tolerance.

    Normal, as JCGM 106:2012 clause 7 has it.  Both tyres off one gauge share its
    systematic error, which drops out: the uncertainty is that of the two random
    parts, ``hypot(random, random)``.

    Parameters
    ----------
    difference_mm : float or array_like
        Measured difference of the two, either sign.
    u_mm : float or array_like
        Standard uncertainty of the difference; at 0 the answer is 0 or 1.
    tolerance_mm : float
        Widest difference inside a pair, itself allowed.

    Returns
    -------
    float, or ndarray where the difference or the uncertainty is one

    Raises
    ------
    NotADifferenceError
        If one is not finite, or the uncertainty or the tolerance is negative.

    Examples
    --------
    >>> round(within_probability(0.05, 0.01, tolerance_mm=0.05), 3)
    0.5
    """
    difference = np.abs(np.asarray(difference_mm, dtype=np.float64))
    u = np.asarray(u_mm, dtype=np.float64)
    known = np.isfinite(difference).all() and np.isfinite(u).all()
    if not (known and u.min(initial=0) >= 0 and 0 <= tolerance_mm < np.inf):
        text = "a difference is finite, and neither uncertainty nor tolerance negative"
        raise NotADifferenceError(text)
    # 20.1 - 20.0 is more than 0.1: the edge is compared at a millionth.
    inside = np.round(difference, 6) <= round(tolerance_mm, 6)
    spread = np.where(u > 0, u, 1.0)
    chance = np.where(
        u > 0,
        scipy.special.ndtr((tolerance_mm - difference) / spread)
        - scipy.special.ndtr((-tolerance_mm - difference) / spread),
        inside,
    )
    return chance if chance.ndim else float(chance)


def range_probability(
    size_mm: ArrayLike, u_mm: ArrayLike, *, tolerance_mm: float
) -> Floats:
    """
    Give the chance that the true range of each set is inside the tolerance.

    Which tyre is truly the largest or the smallest is not known, so all members
    count: the smallest is i at x and the others lie from x to x + t, summed over i
    and integrated over x, of independent normal errors with a u each (the
    distribution of the range, Kendall and Stuart, The Advanced Theory of
    Statistics, vol. 1, 14.1, for unlike members).

    Parameters
    ----------
    size_mm : (s, k) array_like
        Measured sizes, a set a row.
    u_mm : (s, k) array_like
        Standard uncertainty of each size's own part; 0 is exact.
    tolerance_mm : float
        Widest range inside a set, itself allowed.

    Returns
    -------
    (s,) ndarray

    Raises
    ------
    NotADifferenceError
        If one is not finite, the sizes are no table, or an uncertainty or the
        tolerance is negative.

    Examples
    --------
    >>> sizes, u = [[20.00, 20.01, 20.01, 20.02]], [[0.012] * 4]
    >>> range_probability(sizes, u, tolerance_mm=0.02).round(3)
    array([0.221])
    """
    text = "sets are finite, and neither uncertainty nor tolerance negative"
    try:
        size = np.asarray(size_mm, dtype=np.float64)
        u = np.asarray(u_mm, dtype=np.float64)
    except ValueError as ragged:
        raise NotADifferenceError(text) from ragged
    known = np.isfinite(size).all() and np.isfinite(u).all()
    alike = size.ndim == 2 and size.shape == u.shape
    if not (alike and known and u.min(initial=0) >= 0 and 0 <= tolerance_mm < np.inf):
        raise NotADifferenceError(text)
    chance = np.empty(len(size))
    for start in range(0, len(size), _SETS_AT_ONCE):
        some = slice(start, start + _SETS_AT_ONCE)
        chance[some] = _range_chance(size[some], u[some], tolerance_mm)
    return chance


def _range_chance(size: Floats, u: Floats, tolerance: float) -> Floats:
    exact = u == 0
    low = np.where(exact, size, np.inf).min(axis=1)
    high = np.where(exact, size, -np.inf).max(axis=1)
    # Compared at a millionth, as a pair is: 20.1 - 20.0 is more than 0.1.
    with_exact = np.isfinite(low)
    gap = np.where(with_exact, high - np.where(with_exact, low, 0.0), 0.0)
    fits = np.round(gap, 6) <= round(tolerance, 6)
    # An exact member is the smallest: the others lie above it, within the tolerance.
    at_low = np.where(with_exact, low, 0.0)[:, None]
    chance = np.where(with_exact, _inside(at_low - size, u, tolerance).prod(axis=1), 0)
    # Or one that is not exact is, below the exact ones and within their reach.
    row, middle, half = _panels(size, u, low, high, tolerance)
    at, weight = np.polynomial.legendre.leggauss(_NODES)
    nodes = middle[:, None] + half[:, None] * at
    smallest = np.zeros(nodes.shape)  # density of it, whichever it is
    others = np.ones(nodes.shape)
    for member in range(size.shape[1]):
        own = u[row, member][:, None]
        off = nodes - size[row, member][:, None]
        inside = _inside(off, own, tolerance)
        # Either one before is the smallest and this one inside, or this one is.
        smallest = smallest * inside + others * _density(off, own)
        others *= inside
    integral = half * (smallest * weight).sum(axis=1)
    chance = chance + np.bincount(row, weights=integral, minlength=len(size))
    return np.where(fits, np.clip(chance, 0.0, 1.0), 0.0)


def _inside(off: Floats, u: Floats, tolerance: float) -> Floats:
    """Chance to lie from a point so far above the size to a tolerance on; exact: 1."""
    spread = np.where(u > 0, u, 1.0)
    chance = scipy.special.ndtr((off + tolerance) / spread)
    chance -= scipy.special.ndtr(off / spread)
    return np.where(u > 0, chance, 1.0)


def _density(off: Floats, u: Floats) -> Floats:
    spread = np.where(u > 0, u, 1.0)
    density = np.exp(-0.5 * (off / spread) ** 2) / (np.sqrt(2 * np.pi) * spread)
    return np.where(u > 0, density, 0.0)


def _panels(
    size: Floats, u: Floats, low: Floats, high: Floats, tolerance: float
) -> tuple[NDArray[np.intp], Floats, Floats]:
    """Give the panels to integrate over: of which set, their middle, half width."""
    reach = _PANEL_ENDS[-1] * u
    ends = (size[:, :, None] + _PANEL_ENDS * u[:, :, None]).reshape(len(size), -1)
    ends = np.sort(np.concatenate([ends, ends - tolerance], axis=1), axis=1)
    # The smallest is neither above an exact member nor out of reach of any.
    least = np.maximum((size - reach).max(axis=1), high) - tolerance
    most = np.minimum((size + reach).min(axis=1), low)
    ends = np.maximum(np.minimum(ends, most[:, None]), least[:, None])
    half = np.diff(ends, axis=1) / 2
    row, column = np.nonzero(half > 0)
    return row, ends[row, column] + half[row, column], half[row, column]
