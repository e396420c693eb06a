"""
How many nights a car's rear tyres have left: an interval, or not yet known.

A straight line a tyre, all of its readings, with rates that are alike within a car
and within a compound (random effects, Laird and Ware 1982).  How alike they are is
not known and is integrated over, so that few tyres give a wide answer.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

import numpy as np
import scipy

from inventory.compute.arrays import Floats
from inventory.compute.errors import ComputeError

#: Nine of ten intervals hold the truth.
CONFIDENCE: Final = 0.90
#: Beyond so many nights, or where the most is over so many times the least, nothing
#: is said.
MOST_NIGHTS: Final = 60.0
WIDEST: Final = 4.0
_FURTHEST: Final = 1024.0
#: What the spread of rates may be, mm a night: of cars, and of tyres of one car.
_SPREADS_MM: Final = np.geomspace(0.0005, 0.08, 9)
#: Where half of it is thought to lie beforehand; common practice, no source.
_USUAL_SPREAD_MM: Final = 0.01
#: Readings that what is known of the gauge is worth.
_WORTH: Final = 4.0


class NoTyresError(ComputeError):
    """Nothing is asked of no tyre, or of readings that are no table."""

    code: ClassVar[str] = "no_tyres"


@dataclass(frozen=True, kw_only=True, eq=False)
class RacedTyre:
    """
    One tyre's readings.

    Attributes
    ----------
    car : int
        Which car wore it; only whether two are the same counts.
    nights : (n,) ndarray
        Nights that it had raced by each reading.
    diameter_mm : (n,) ndarray
        Readings.
    """

    car: int
    nights: Floats
    diameter_mm: Floats


@dataclass(frozen=True, kw_only=True)
class NightsLeft:
    """
    What is left of a car's tyres.

    ``low`` and ``high`` hold nine in ten, ``likely`` is the median, in nights;
    ``per_night_mm`` is what a night takes off, with its standard uncertainty.
    """

    low: float
    likely: float
    high: float
    per_night_mm: float
    u_per_night_mm: float

    @property
    def is_known(self) -> bool:
        """Whether the interval is narrow enough to say."""
        narrow = self.high <= WIDEST * max(self.low, 1.0)
        return narrow and self.high <= MOST_NIGHTS


def nights_left(
    tyres: Sequence[RacedTyre],
    *,
    on_car: Sequence[int],
    limit_mm: float,
    repeatability_mm: float,
) -> NightsLeft | None:
    """
    Say how many nights the tyres on a car last, down to a mean diameter.

    Parameters
    ----------
    tyres : sequence of RacedTyre
        Of one compound, those of other cars too.
    on_car : sequence of int
        Places of the tyres that the car wears now.
    limit_mm : float
        Mean diameter of them at which the first rule breaks.
    repeatability_mm : float
        Standard deviation of a reading, as far as the gauge is known.

    Returns
    -------
    NightsLeft or None
        None where no tyre was read before and after a night.

    Raises
    ------
    NoTyresError
        If no tyre is on the car, or one of these has no reading.

    Examples
    --------
    >>> raced = np.arange(8.0)
    >>> tyre = RacedTyre(car=1, nights=raced, diameter_mm=20.4 - 0.05 * raced)
    >>> nights = nights_left([tyre], on_car=[0], limit_mm=19.55, repeatability_mm=0.01)
    >>> round(nights.low), round(nights.likely), round(nights.high)
    (10, 10, 10)
    """
    lines = [_line(tyre) for tyre in tyres]
    worn = [lines[place] for place in on_car]
    if not worn or not math.isfinite(limit_mm):
        text = "nights are asked of the tyres on a car, and of a limit"
        raise NoTyresError(text)
    told = [line for line in lines if line.spread > 0]
    if not told:
        return None
    variance = _variance(told, repeatability_mm)
    rate = _rates(told, worn, variance)
    return _crossing(worn, rate, limit_mm, variance)


@dataclass(frozen=True, kw_only=True)
class _Line:
    """A tyre's readings, as far as a straight line needs them."""

    car: int
    count: int
    middle: float
    size: float
    last: float
    spread: float
    slope: float
    squares: float


def _line(tyre: RacedTyre) -> _Line:
    nights = np.asarray(tyre.nights, dtype=np.float64)
    size = np.asarray(tyre.diameter_mm, dtype=np.float64)
    fits = nights.ndim == 1 and nights.shape == size.shape and nights.size > 0
    if not fits or not np.isfinite([nights, size]).all():
        text = "a tyre has as many finite readings as nights, one or more"
        raise NoTyresError(text)
    off = nights - nights.mean()
    spread = float(off @ off)
    slope = float(-(off @ size) / spread) if spread > 0 else 0.0
    rest = size - size.mean() + slope * off
    return _Line(
        car=tyre.car,
        count=nights.size,
        middle=float(nights.mean()),
        size=float(size.mean()),
        last=float(nights.max()),
        spread=spread,
        slope=slope,
        squares=float(rest @ rest),
    )


def _variance(lines: list[_Line], repeatability_mm: float) -> float:
    """Variance of a reading: from all lines, drawn to what is known of the gauge."""
    freedom = sum(max(line.count - 2, 0) for line in lines)
    squares = sum(line.squares for line in lines if line.count > 2)
    return (_WORTH * repeatability_mm**2 + squares) / (_WORTH + freedom)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rates:
    """The mean rate of the tyres on the car, for each spread there may be."""

    weight: Floats
    mean: Floats
    variance: Floats


def _rates(told: list[_Line], worn: list[_Line], variance: float) -> _Rates:
    slope = np.array([line.slope for line in told])
    own = np.array([variance / line.spread for line in told])
    cars = np.array([line.car for line in told])
    alike = (cars[:, None] == cars).astype(np.float64)
    here = (cars == worn[0].car).astype(np.float64)
    worn_at = np.array([[line is one for line in told] for one in worn], np.float64)
    share = worn_at.mean(axis=0)
    weights, means, variances = [], [], []
    for of_cars in _SPREADS_MM:
        for of_tyres in _SPREADS_MM:
            known = of_cars**2 * alike + np.diag(of_tyres**2 + own)
            # What the sought mean has in common with each slope, and by itself.
            common = of_cars**2 * here + of_tyres**2 * share
            alone = of_cars**2 + of_tyres**2 / len(worn)
            factor = scipy.linalg.cho_factor(known, lower=True)
            ones = np.ones(len(slope))
            solved = scipy.linalg.cho_solve(
                factor, np.stack([ones, slope, common], axis=1)
            )
            about = ones @ solved[:, 0]
            centre = (ones @ solved[:, 1]) / about
            left = 1.0 - common @ solved[:, 0]
            means.append(centre + common @ (solved[:, 1] - centre * solved[:, 0]))
            variances.append(alone - common @ solved[:, 2] + left**2 / about)
            # Likelihood of the slopes with their middle integrated out.
            misfit = slope @ solved[:, 1] - about * centre**2
            size = 2.0 * np.log(np.diag(factor[0])).sum() + np.log(about)
            # A half Cauchy each (Gelman 2006), on a grid even in the logarithm.
            prior = np.log(_prior(of_cars) * _prior(of_tyres))
            weights.append(prior - (misfit + size) / 2.0)
    weight = np.exp(np.array(weights) - max(weights))
    return _Rates(
        weight=weight / weight.sum(),
        mean=np.array(means),
        variance=np.maximum(np.array(variances), 0.0),
    )


def _prior(spread: float) -> float:
    return spread / (1.0 + (spread / _USUAL_SPREAD_MM) ** 2)


def _crossing(
    worn: list[_Line], rate: _Rates, limit_mm: float, variance: float
) -> NightsLeft:
    size = sum(line.size for line in worn) / len(worn)
    u_size = math.sqrt(sum(variance / line.count for line in worn)) / len(worn)
    # Tyres are read together: from the middle of their readings to the last.
    since = max(line.last for line in worn) - sum(line.middle for line in worn) / len(
        worn
    )

    def crossed(nights: float) -> float:
        """Chance that the limit is reached by then; a tyre does not grow."""
        run = nights + since
        doubt = np.sqrt(u_size**2 + run**2 * rate.variance)
        reached = scipy.special.ndtr((run * rate.mean - (size - limit_mm)) / doubt)
        return float((rate.weight * reached).sum()) / wears

    u_rate = np.sqrt(rate.variance)
    wears = float((rate.weight * scipy.special.ndtr(rate.mean / u_rate)).sum())
    tail = (1.0 - CONFIDENCE) / 2.0
    mean = float((rate.weight * rate.mean).sum())
    spread = float((rate.weight * (rate.variance + (rate.mean - mean) ** 2)).sum())
    return NightsLeft(
        low=_solve(crossed, tail),
        likely=_solve(crossed, 0.5),
        high=_solve(crossed, 1.0 - tail),
        per_night_mm=mean,
        u_per_night_mm=math.sqrt(spread),
    )


def _solve(crossed: Callable[[float], float], chance: float) -> float:
    """Find the nights by which the limit is reached with a chance."""
    if crossed(0.0) >= chance:
        return 0.0
    low, high = 0.0, 1.0
    while crossed(high) < chance:
        low, high = high, 2.0 * high
        if high > _FURTHEST:
            return math.inf
    for _ in range(30):
        middle = (low + high) / 2.0
        low, high = (middle, high) if crossed(middle) < chance else (low, middle)
    return high
