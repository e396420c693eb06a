"""
Readings off a gauge, made into estimates with their uncertainty.

Readings and gauge in one unit, the quantity's own (mm for lengths); NaN stands
for a reading not taken.  One part in: floats and words out.  Many parts: arrays,
the parts' axes first, the readings along the last.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import hypot, isfinite, sqrt
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats, Ints
from inventory.compute.errors import ComputeError
from inventory.compute.measuring.gauges import Gauge, GaugeMode, Gauges, NotAGaugeError
from inventory.compute.measuring.repeats import (
    NotAReadingError,
    WrongShapeError,
    as_readings,
    nan_for_none,
    summarise,
)
from inventory.compute.numbers import differs_from_last, slip_of_the_decimal

__all__ = [
    "Estimate",
    "Estimates",
    "Gauge",
    "GaugeMode",
    "Gauges",
    "GoGauge",
    "GoOutcome",
    "IntervalBackwardsError",
    "NoReadingError",
    "NotAGaugeError",
    "NotAReadingError",
    "WrongShapeError",
    "differs_from_last",
    "estimate",
    "estimates",
    "estimates_from_spread",
    "go_gauge",
    "interval_estimate",
    "interval_estimates",
    "slip_of_the_decimal",
]

# A flat error of half-width a, or a step of width d that hides the value:
# JCGM 100:2008 4.3.7 and F.2.2.1.
_HALF_WIDTH = sqrt(3.0)
_WIDTH = sqrt(12.0)


class NoReadingError(ComputeError):
    """An estimate is asked of no reading at all."""

    code: ClassVar[str] = "no_reading"


class IntervalBackwardsError(ComputeError):
    """The slip that goes is thicker than the one that does not."""

    code: ClassVar[str] = "interval_backwards"


class GoOutcome(StrEnum):
    """Whether the limit slip went, and the rule with it."""

    PASS = "pass"  # noqa: S105 - a word, no password
    FAIL = "fail"


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """
    Best value of one quantity.

    ``random`` is this estimate's own standard uncertainty; ``systematic`` is
    that of the gauge, the same error in all it read that night.
    """

    value: float
    random: float
    systematic: float
    count: int

    @property
    def standard_uncertainty(self) -> float:
        """Both parts together."""
        return hypot(self.random, self.systematic)


@dataclass(frozen=True, kw_only=True, eq=False)
class Estimates:
    """As `Estimate`, arrays of the parts' shape; no reading: NaN and count 0."""

    value: Floats
    random: Floats
    systematic: Floats
    count: Ints

    @property
    def standard_uncertainty(self) -> Floats:
        """Both parts together."""
        return np.hypot(self.random, self.systematic)

    def only(self) -> Estimate:
        """
        Take the one estimate out of arrays without axes.

        Raises
        ------
        NoReadingError
            If it has no reading.
        """
        if not self.count:
            msg = "there is no reading to estimate from"
            raise NoReadingError(msg)
        return Estimate(
            value=float(self.value),
            random=float(self.random),
            systematic=float(self.systematic),
            count=int(self.count),
        )


@dataclass(frozen=True, kw_only=True)
class GoGauge:
    """The limit slip tried under the car: the outcome, and the slip's own u."""

    limit: float
    outcome: GoOutcome
    standard_uncertainty: float


def estimate(readings: ArrayLike, gauge: Gauge) -> Estimate:
    """
    Estimate one quantity from repeated readings of one person off one gauge.

    Parameters
    ----------
    readings : (n,) array_like of float
        At least one, in the gauge's unit; NaN counts as not taken.
    gauge : Gauge
        What they were read with.

    Returns
    -------
    Estimate
        ``value`` the mean; ``random`` of the mean, where the display's step is
        not averaged away; ``systematic`` of the gauge (JCGM 100 4.2, 4.3.7).

    Raises
    ------
    NoReadingError, NotAReadingError, WrongShapeError
        If there is none, one is infinite, or they are not one row.

    Examples
    --------
    >>> gauge = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.004)
    >>> round(estimate([12.34, 12.34, 12.34], gauge).standard_uncertainty, 7)
    0.0121244
    """
    row = as_readings(readings)
    if row.ndim != 1:
        msg = f"expected one row of readings, not {row.ndim} axes"
        raise WrongShapeError(msg)
    return estimates(row, gauge).only()


def estimates(readings: ArrayLike, gauge: Gauge | Gauges) -> Estimates:
    """
    Estimate many quantities at once.

    Parameters
    ----------
    readings : (..., k) array_like of float
        Repeats along the last axis; NaN for those not taken.
    gauge : Gauge or Gauges
        One for all, or arrays that broadcast against ``(...)``.

    Returns
    -------
    Estimates
        Arrays of shape ``(...)``.

    Raises
    ------
    NotAReadingError, WrongShapeError
        If a reading is infinite, or there is no axis.

    Examples
    --------
    >>> gauge = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.004)
    >>> estimates([[12.34, 12.36], [9.87, float("nan")]], gauge).value
    array([12.35,  9.87])
    """
    repeats = summarise(as_readings(readings, axes=1))
    freedom = np.maximum(repeats.count - 1, 1)
    return estimates_from_spread(
        repeats.mean,
        spread=np.sqrt(repeats.squares / freedom),
        share=1 / np.sqrt(nan_for_none(repeats.count)),
        count=repeats.count,
        gauge=gauge,
    )


def estimates_from_spread(
    value: Floats,
    *,
    spread: Floats,
    share: Floats,
    count: Ints,
    gauge: Gauge | Gauges,
) -> Estimates:
    """
    Put a mean, the scatter of its readings and the gauge together.

    Parameters
    ----------
    value : (...) array of float
        Means.
    spread : (...) array of float
        Standard deviation of one reading, as these readings show it.
    share : (...) array of float
        How much of it is left in the mean: 1/√n for a plain one.
    count : (...) array of int
        Readings taken.
    gauge : Gauge or Gauges
        What they were read with.

    Returns
    -------
    Estimates
        Arrays of shape ``(...)``.

    Examples
    --------
    >>> gauge = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.02)
    >>> mean, one = np.array([12.5]), np.array([1])
    >>> estimates_from_spread(
    ...     mean, spread=np.array([0.0]), share=one / 2, count=4 * one, gauge=gauge
    ... ).random
    array([0.01])
    """
    # A short run of equal readings is no proof of a gauge that repeats exactly,
    # and the display's step is in each reading alike: no mean takes it away.
    scatter = np.maximum(spread, gauge.repeatability) * share
    step = np.asarray(gauge.resolution) / _WIDTH
    return Estimates(
        value=value,
        random=np.hypot(scatter, step),
        systematic=np.where(count > 0, _systematic(gauge), np.nan),
        count=count,
    )


def interval_estimate(low: float, high: float, gauge: Gauge) -> Estimate:
    """
    Estimate a gap that one slip enters and the next does not.

    Parameters
    ----------
    low, high : float
        The thickest that goes and the thinnest that does not.
    gauge : Gauge
        The slips; only their permissible error counts.

    Returns
    -------
    Estimate
        ``value`` midway, ``random`` that of a flat spread between the two.

    Raises
    ------
    IntervalBackwardsError, NoReadingError, NotAReadingError
        If high is below low, or one of them is NaN or infinite.

    Examples
    --------
    >>> slips = Gauge(resolution=0.0, max_permissible_error=0.005, repeatability=0.0)
    >>> gap = interval_estimate(1.0, 1.06, slips)
    >>> round(gap.value, 3), round(gap.random, 4)
    (1.03, 0.0173)
    """
    return interval_estimates(low, high, gauge).only()


def interval_estimates(
    low: ArrayLike, high: ArrayLike, gauge: Gauge | Gauges
) -> Estimates:
    """
    Estimate many gaps at once, each between two slips.

    Parameters
    ----------
    low, high : array_like of float
        Of one shape; NaN in either: not taken.
    gauge : Gauge or Gauges
        One for all, or arrays that broadcast against the gaps.

    Returns
    -------
    Estimates
        Arrays of that shape, count 1 or 0.

    Raises
    ------
    IntervalBackwardsError, NotAReadingError
        If a high is below its low, or one of them is infinite.

    Examples
    --------
    >>> slips = Gauge(resolution=0.0, max_permissible_error=0.005, repeatability=0.0)
    >>> interval_estimates([1.0, 2.0], [1.5, 2.5], slips).value
    array([1.25, 2.25])
    """
    lows, highs = np.broadcast_arrays(as_readings(low), as_readings(high))
    if np.any(highs < lows):
        where = int(np.argmax(highs < lows))
        msg = (
            f"the slip that does not go, {highs.flat[where]}, is thinner"
            f" than the one that goes, {lows.flat[where]}"
        )
        raise IntervalBackwardsError(msg)
    middle = (lows + highs) / 2
    taken = ~np.isnan(middle)
    return Estimates(
        value=middle,
        random=(highs - lows) / _WIDTH,
        systematic=np.where(taken, _systematic(gauge), np.nan),
        count=taken.astype(np.int64),
    )


def go_gauge(limit: float, goes: bool, gauge: Gauge) -> GoGauge:  # noqa: FBT001
    """
    Judge a limit by the slip or plate of just that size.

    Parameters
    ----------
    limit : float
        Size of the slip, the rule's own limit.
    goes : bool
        Whether it slides under (or the car into the plate).
    gauge : Gauge
        The slip; only its permissible error counts.

    Returns
    -------
    GoGauge
        ``outcome`` pass if it goes, else fail.

    Raises
    ------
    NotAReadingError
        If the limit is not finite.

    Examples
    --------
    >>> slip = Gauge(resolution=0.0, max_permissible_error=0.005, repeatability=0.0)
    >>> go_gauge(1.0, True, slip).outcome.value
    'pass'
    """
    if not isfinite(limit):
        msg = f"{limit} is no size of a slip"
        raise NotAReadingError(msg)
    return GoGauge(
        limit=limit,
        outcome=GoOutcome.PASS if goes else GoOutcome.FAIL,
        standard_uncertainty=float(_systematic(gauge)),
    )


def _systematic(gauge: Gauge | Gauges) -> Floats:
    return np.asarray(gauge.max_permissible_error) / _HALF_WIDTH
