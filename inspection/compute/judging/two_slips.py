"""
A gap that one slip enters and the next does not, beside a limit.

What is known of it is flat from the one slip to the other, and the slips have an
error of their own: the two are convolved (JCGM 101:2008, 6.4.2; a sum of a flat and
a normal error).  Where one of the two is the limit's own slip, it is a go gauge:
that limit was tried, and has been met or broken, whatever lies beyond.
"""

from dataclasses import dataclass, replace

import numpy as np
import scipy

from inspection.compute.judging.candidates import Candidate
from inspection.compute.judging.outcomes import Outcome
from inspection.compute.stance import AT_LEAST, AT_MOST, BETWEEN, VALUE
from inventory.compute.arrays import Bools, Codes, Floats

# The spread between two slips is kept as a standard uncertainty in whole 1e-6, so
# that a slip's size comes back to within one or two of them.
_SAME = 2e-6
_STEP = 1e-6
# A step of Newton's so small, in standard uncertainties, leaves its square: nothing.
_SMALL = 1e-5
_MOST_STEPS = 60


@dataclass(frozen=True, kw_only=True)
class JudgedBetween:
    """What a rule finds of gaps between two slips; ``(n,)`` each."""

    outcome: Codes
    guard_band: Floats
    critical: Floats
    probability: Floats


def try_limit_slips(one: Candidate, lower: float, upper: float) -> Candidate:
    """
    Take two slips as one go gauge where one of them is a limit's own.

    Parameters
    ----------
    one : Candidate
        What was read of one column.
    lower, upper : float
        The rule's limits, NaN for none.

    Returns
    -------
    Candidate
        With a bound where one of the slips decides the rule by itself; no wider
        apart than a millionth, the two are a plain value.
    """
    if one.half_width is None or one.slips_u is None:
        return one
    between = one.bound == BETWEEN
    low, high = one.value - one.half_width, one.value + one.half_width
    stops_below, goes_above = _same(high, lower), _same(low, upper)
    meets_lower = _same(low, lower) & np.isnan(upper)
    meets_upper = _same(high, upper) & np.isnan(lower)
    goes, stops = goes_above | meets_lower, stops_below | meets_upper
    limit = np.where(stops_below | meets_lower, lower, upper)
    plain = between & (one.half_width <= _SAME)
    decided = between & ~plain & (goes | stops)
    bound = np.select(
        [plain, decided & stops, decided],
        [np.int8(VALUE), np.int8(AT_MOST), np.int8(AT_LEAST)],
        one.bound,
    ).astype(np.int8)
    return replace(
        one,
        value=np.where(decided, limit, one.value),
        u=np.where(decided, one.slips_u, one.u),
        bound=bound,
    )


def judge_between(
    value: Floats,
    half_width: Floats,
    slips_u: Floats,
    *,
    lower: Floats,
    upper: Floats,
    confidence: float,
) -> JudgedBetween:
    """
    Judge gaps that lie between two slips.

    Parameters
    ----------
    value, half_width : (n,) ndarray
        Midway between the slips, and half of what they are apart.
    slips_u : (n,) ndarray
        Standard uncertainty of the slips.
    lower, upper : (n,) ndarray
        The limits, NaN for none; one that its own slip has met counts no more.
    confidence : float
        Of the guard band.

    Returns
    -------
    JudgedBetween
        ``critical`` is the guard band over the standard uncertainty, rounded up to
        a thousandth, by which it was judged.
    """
    to_lower = np.where(_same(value - half_width, lower), np.inf, value - lower)
    to_upper = np.where(_same(value + half_width, upper), np.inf, upper - value)
    sides = [np.where(np.isnan(side), np.inf, side) for side in (to_lower, to_upper)]
    near, far = _rounded(np.minimum(*sides)), _rounded(np.maximum(*sides))
    u = np.hypot(half_width / np.sqrt(3.0), slips_u)
    critical = (
        np.ceil(1e3 * _quantile(half_width, slips_u, 1 - confidence) / u - 1e-6) / 1e3
    )
    guard = _rounded(critical * u)
    passes = near >= guard
    # Half a step of the last digit is allowed at the acceptance limit.
    both = np.isfinite(far)
    sure = _inside(near + _STEP / 2, far + _STEP / 2, half_width, slips_u)
    passes &= ~both | (sure >= confidence)
    steps = (~passes).astype(np.int8) + (near < 0) + (near < -guard)
    met = np.isinf(near)
    return JudgedBetween(
        outcome=np.where(met, np.int8(Outcome.PASS.code), steps).astype(np.int8),
        guard_band=critical * u,
        critical=critical,
        probability=_inside(near, far, half_width, slips_u),
    )


def guard_between(one: Candidate, confidence: float) -> Floats:
    """
    Give the guard band of what lies between two slips.

    Parameters
    ----------
    one : Candidate
        What was read of one column, two slips on some car.
    confidence : float
        Of the guard band.

    Returns
    -------
    (cars,) ndarray
        As `judge_between` has it; 0 where there were no two slips.
    """
    guard = np.zeros(len(one.value))
    at = np.flatnonzero(one.bound == BETWEEN)
    if not len(at) or one.half_width is None or one.slips_u is None:
        return guard
    nothing = np.full(len(at), np.nan)
    guard[at] = judge_between(
        one.value[at],
        one.half_width[at],
        one.slips_u[at],
        lower=nothing,
        upper=nothing,
        confidence=confidence,
    ).guard_band
    return guard


def _same(slip: Floats, limit: Floats | float) -> Bools:
    same: Bools = np.abs(slip - limit) <= _SAME
    return same


def _rounded(size: Floats) -> Floats:
    return np.round(size, 6)


def _inside(near: Floats, far: Floats, half_width: Floats, slips_u: Floats) -> Floats:
    """Give the probability that the true gap is between its limits."""
    outside = _beyond(near, half_width, slips_u) + _beyond(far, half_width, slips_u)
    return np.clip(1.0 - outside, 0.0, 1.0)


def _beyond(distance: Floats, half_width: Floats, slips_u: Floats) -> Floats:
    """
    Give the probability that the error is larger than a distance.

    The normal tail, averaged over the flat part: its integral is z Φ(z) + φ(z).
    """
    exact = np.clip((half_width - distance) / (2 * half_width), 0.0, 1.0)
    known = np.where(slips_u > 0, slips_u, 1.0)
    finite = np.where(np.isfinite(distance), distance, 0.0)
    ends = np.stack((half_width - finite, -half_width - finite))
    above, below = _area(ends / known)
    share = np.where(slips_u > 0, known / (2 * half_width) * (above - below), exact)
    return np.where(np.isfinite(distance), np.clip(share, 0.0, 1.0), 0.0)


def _area(z: Floats) -> Floats:
    # Far below, the two terms cancel to nothing, and far above the density is none.
    bounded = np.maximum(z, -40.0)
    density = np.exp(-(np.minimum(np.abs(bounded), 40.0) ** 2) / 2)
    area: Floats = bounded * scipy.special.ndtr(bounded) + density / np.sqrt(2 * np.pi)
    return area


def _quantile(half_width: Floats, slips_u: Floats, risk: float) -> Floats:
    """
    Give the distance that the error exceeds with this risk, by Newton's method.

    It begins with the wider of the two parts alone, which is too near; from there the
    tail is convex, and no step goes too far.
    """
    normal = scipy.special.ndtri(1 - risk) * slips_u
    distance = np.maximum(half_width * (1 - 2 * risk), normal)
    known = np.where(slips_u > 0, slips_u, 1.0)
    u = np.hypot(half_width, slips_u)
    for _ in range(_MOST_STEPS):
        ends = np.stack((distance + half_width, distance - half_width)) / known
        above, below = scipy.special.ndtr(ends)
        density = np.where(slips_u > 0, above - below, 1.0) / (2 * half_width)
        step = (_beyond(distance, half_width, slips_u) - risk) / density
        distance = distance + step
        if (np.abs(step) <= _SMALL * u).all():
            break
    return distance
