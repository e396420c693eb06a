"""
Places that are judged together: one critical value, and one probability of them all.

The errors of the places of one car go together, for they come from the same readings
off the same gauges.  They are taken as normal with that covariance; chances of them
are integrals over directions, along each of which the rest is a chi distribution
(Deák, Three digit accurate multiple normal probabilities, Numerische Mathematik 35,
1980): exact as well where errors are one and the same and no density exists.

Arrays with the findings first, their places second.
"""

import math
from collections.abc import Iterator
from functools import cache
from typing import Final

import numpy as np
import scipy

from inventory.compute.arrays import Bools, Floats

#: So many places at once; of more, each takes its share of the risk (Bonferroni).
MOST_PLACES: Final = 6
_FINE: Final = {2: 256, 4: 4096, 6: 2048}
# A chance is shown in whole per cent, a critical value is kept to a thousandth.
_COARSE: Final = {2: 64, 4: 512, 6: 512}
_STEPS: Final = 4
# So many numbers at once stay near the processor.
_AT_ONCE: Final = 65_536
_UNKNOWN: Final = 0.002
_FEWER: Final = 1e-9


def critical_value(likeness: Floats, confidence: float) -> Floats:
    """
    Give how many u the least of some places may be outside.

    With the true values of all the places at the limit, the least margin over its u
    is below minus this with the chance 1 − confidence.

    Parameters
    ----------
    likeness : (n, k, k) ndarray
        Correlation of the places' errors, as the sides of the limits see them.
    confidence : float
        From 0.5 to below 1.

    Returns
    -------
    (n,) ndarray
        Rounded up to a thousandth: of errors taken as a little less alike than they
        are, and of three places and more with 0.002 for what is left unknown.

    Examples
    --------
    Of two errors that have nothing in common, √0.95 each (Šidák, 1967); of one and
    the same, the normal quantile.

    >>> critical_value(np.eye(2)[None], 0.95)
    array([1.955])
    >>> critical_value(np.ones((1, 2, 2)), 0.95)
    array([1.645])
    """
    count = likeness.shape[1]
    single = float(scipy.special.ndtri(confidence))
    most = float(-scipy.special.ndtri((1.0 - confidence) / count))
    alike, which = np.unique(_outwards(likeness), axis=0, return_inverse=True)
    if count > MOST_PLACES:
        factors = np.full(len(alike), most)
    else:
        factors = np.concatenate(
            [
                _root(alike[some], confidence, (single, most), _size(count))
                for some in _handfuls(len(alike), count * _FINE[_size(count)])
            ]
        )
    factors = factors[which.reshape(-1)]
    # Outwards also of what so many directions leave unknown.
    unknown = _UNKNOWN if count > 2 else 0.0
    return np.ceil(1e3 * (factors + unknown) - 1e-3) / 1e3


def joint_probability(near: Floats, far: Floats, likeness: Floats) -> Floats:
    """
    Give the probability that all places are inside their limits.

    Parameters
    ----------
    near, far : (n, k) ndarray
        Distance to the nearer and to the other limit over u, positive inside;
        infinite where there is no other.
    likeness : (n, k, k) ndarray
        As for `critical_value`.

    Returns
    -------
    (n,) ndarray
        To some thousandths.

    Examples
    --------
    Two places at their limits, whose errors have nothing in common.

    >>> at, none = np.zeros((1, 2)), np.full((1, 2), np.inf)
    >>> joint_probability(at, none, np.eye(2)[None]).round(3)
    array([0.25])
    """
    probability = np.zeros(len(near))
    for some in _handfuls(len(near), near.shape[1] * _COARSE[_size(near.shape[1])]):
        probability[some] = _joint(near[some], far[some], likeness[some])
    return probability


def _handfuls(rows: int, each: int) -> Iterator[slice]:
    """Take so many rows at once that their numbers stay near the processor."""
    at_once = max(1, _AT_ONCE // each)
    for start in range(0, rows, at_once):
        yield slice(start, start + at_once)


def _outwards(likeness: Floats) -> Floats:
    """
    Take errors as a little less alike than they are.

    Less alike, the critical value is larger (Slepian, Bell System Technical Journal
    41, 1962).  As an angle, to the next fiftieth: many findings then share one.
    """
    angle = np.arccos(np.clip(likeness, -1.0, 1.0))
    widened: Floats = np.cos(np.minimum(np.ceil(50 * angle - 1e-6) / 50, np.pi))
    return widened


def _joint(near: Floats, far: Floats, likeness: Floats) -> Floats:
    along, size = _along(likeness, _COARSE), _size(likeness.shape[1])
    # How fast a limit is reached along a direction; the first counts.
    rate = along * -_per(near, near >= 0)
    if np.isfinite(far).any():
        rate = np.maximum(rate, along * _per(far, np.ones_like(far, dtype=np.bool_)))
    share = _chi(1.0 / np.maximum(rate.max(axis=1), _FEWER), size)
    out = near < 0
    some = np.flatnonzero(out.any(axis=1))
    if len(some):
        # From outside, a limit is reached first, and the last of them counts.
        back = np.where(out[some, :, None], along[some], np.inf)
        back = (back * _per(-near[some], out[some], other=1.0)).min(axis=1)
        share[some] -= _chi(1.0 / np.maximum(back, _FEWER), size)
    mean_share: Floats = np.maximum(share, 0.0).mean(axis=1)
    return mean_share


def _per(distance: Floats, where: Bools, *, other: float = 0.0) -> Floats:
    """Give one over each distance, (n, k, 1); of places that do not count, another."""
    size = np.where(where, np.maximum(distance, _FEWER), 1.0)
    return np.where(where, 1.0 / size, other)[:, :, None]


def _along(likeness: Floats, counts: dict[int, int]) -> Floats:
    """Give how fast each place's error grows along each direction; (n, k, N)."""
    size = _size(likeness.shape[1])
    values, vectors = np.linalg.eigh(likeness)
    # The largest come last; of more places than that, the rest is next to nothing.
    root = (vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :])[:, :, -size:]
    along: Floats = root @ _directions(size, counts[size])[: root.shape[2]]
    return along


def _size(count: int) -> int:
    """Give the even number of dimensions that so many places are looked at in."""
    return min(count + count % 2, MOST_PLACES)


@cache
def _directions(size: int, count: int) -> Floats:
    """Spread directions evenly, each with its opposite; ``(size, count)``."""
    if size == 2:
        angle = 2 * np.pi * (np.arange(count) + 0.5) / count
        return np.array([np.cos(angle), np.sin(angle)])
    points = scipy.stats.qmc.Sobol(size, scramble=True, rng=np.random.default_rng(1980))
    normal = scipy.special.ndtri(points.random(count // 2))
    unit = (normal / np.linalg.norm(normal, axis=1, keepdims=True)).T
    return np.concatenate((unit, -unit), axis=1)


def _chi(length: Floats, size: int) -> Floats:
    """Give the chance of a shorter error, in an even number of dimensions."""
    x = np.minimum(length, 40.0) ** 2 / 2
    term, total = np.ones_like(x), np.ones_like(x)
    for place in range(1, size // 2):
        term = term * x / place
        total = total + term
    return 1.0 - np.exp(-x) * total


def _root(
    likeness: Floats, confidence: float, ends: tuple[float, float], size: int
) -> Floats:
    """Solve for the critical value, by Newton's steps between its two bounds."""
    # Along a direction that leads nowhere outside, any length will do.
    reach = np.maximum(-_along(likeness, _FINE).min(axis=1), _FEWER)
    power = 2.0 ** (size // 2 - 1) * math.gamma(size / 2)
    factor = np.full(len(reach), sum(ends) / 2)
    for _ in range(_STEPS):
        length = np.minimum(factor[:, None] / reach, 40.0)
        chance = _chi(length, size).mean(axis=1)
        density = length ** (size - 1) * np.exp(-(length**2) / 2) / power
        slope = np.maximum((density / reach).mean(axis=1), _FEWER)
        factor = np.clip(factor - (chance - confidence) / slope, *ends)
    return factor
