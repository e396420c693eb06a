"""
What a decision rule costs: legal cars refused and illegal ones admitted in a season.

JCGM 106:2012, clause 9: the risks of all cars of a class together, from how their true
values spread and how well they are measured.  A value that is the least over several
places counts as one place's.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import scipy

from inspection.compute.judging import DecisionRule, no_value_passes
from inventory.compute.arrays import Bools, Floats

#: Fewer cars than these do not tell how a class spreads.
LEAST_CARS: Final = 5
#: Which way a decision rule moves the limits that it accepts by.
_INWARDS: Final = {
    DecisionRule.SIMPLE_ACCEPTANCE: 0,
    DecisionRule.GUARDED_ACCEPTANCE: 1,
    DecisionRule.GUARDED_REJECTION: -1,
}
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
# A normal spread ends here, and a stretch between two limits is cut in as many parts.
_WIDEST, _PARTS = 8.0, 24


@dataclass(frozen=True, kw_only=True)
class Spread:
    """
    How the true values of a class spread.

    Attributes
    ----------
    density : callable
        Probability density, of an array of values.
    low, high : float
        It is nothing outside.
    """

    density: Callable[[Floats], Floats]
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Shares:
    """
    Shares of a class, of 1.

    ``legal`` are within the tolerance limits, ``admitted`` are read within the
    acceptance limits, ``both`` are both.
    """

    legal: float
    admitted: float
    both: float

    @property
    def refused_legal(self) -> float:
        """The global producer's risk."""
        return self.legal - self.both

    @property
    def admitted_illegal(self) -> float:
        """The global consumer's risk."""
        return self.admitted - self.both


@dataclass(frozen=True, kw_only=True)
class SpreadLimits:
    """A lower and an upper limit; infinite for none."""

    lower: float = -math.inf
    upper: float = math.inf


def normal_spread(mean: float, deviation: float) -> Spread:
    """
    Spread true values normally.

    Parameters
    ----------
    mean, deviation : float
        In the quantity's unit; the deviation above 0.

    Returns
    -------
    Spread
    """
    return Spread(
        density=lambda at: np.asarray(
            np.exp(-(((at - mean) / deviation) ** 2) / 2)
            / (deviation * math.sqrt(2 * math.pi))
        ),
        low=mean - _WIDEST * deviation,
        high=mean + _WIDEST * deviation,
    )


def shares(
    spread: Spread, u: float, *, legal: SpreadLimits, accepted: SpreadLimits
) -> Shares:
    """
    Give the shares of a class that are legal, that are admitted, and that are both.

    Parameters
    ----------
    spread : Spread
        Of the true values.
    u : float
        Standard uncertainty of a reading, above 0.
    legal : SpreadLimits
        The tolerance limits.
    accepted : SpreadLimits
        The acceptance limits; crossed where nothing is accepted.

    Returns
    -------
    Shares
        JCGM 106:2012, 9.3: integrals over the true value.

    Examples
    --------
    The guide's resistors (9.5): 1 in 100 out of tolerance and accepted.

    >>> limits = SpreadLimits(lower=-0.2, upper=0.2)
    >>> inside = SpreadLimits(lower=-0.18, upper=0.18)
    >>> part = shares(normal_spread(0.0, 0.12), 0.04, legal=limits, accepted=inside)
    >>> round(part.admitted_illegal, 4)
    0.0099
    """
    ends = [spread.low, legal.lower, legal.upper, spread.high]
    cuts = np.unique(np.clip(ends, spread.low, spread.high))
    both = all_admitted = all_legal = 0.0
    for start, end in pairwise(cuts.tolist()):
        edges = np.linspace(start, end, _PARTS + 1)
        half = np.diff(edges)[:, None] / 2
        true = edges[:-1, None] + half * (1 + _NODES)
        weight = half * _WEIGHTS * spread.density(true)
        admitted = _admitted(true, u, accepted)
        within = float(np.sum(weight * admitted))
        all_admitted += within
        if legal.lower <= (start + end) / 2 <= legal.upper:
            both += within
            all_legal += float(np.sum(weight))
    return Shares(legal=all_legal, admitted=all_admitted, both=both)


def _admitted(true: Floats, u: float, accepted: SpreadLimits) -> Floats:
    if accepted.lower > accepted.upper:
        return np.zeros(true.shape)
    ndtr = scipy.special.ndtr
    share: Floats = ndtr((accepted.upper - true) / u) - ndtr(
        (accepted.lower - true) / u
    )
    return share


def accepted_by(
    rule: DecisionRule, legal: SpreadLimits, u: float, *, confidence: float
) -> SpreadLimits:
    """
    Give the acceptance limits of a decision rule.

    Parameters
    ----------
    rule : DecisionRule
        Which outcomes it admits.
    legal : SpreadLimits
        The tolerance limits.
    u : float
        Standard uncertainty of a reading.
    confidence : float
        Of the guard band.

    Returns
    -------
    SpreadLimits
        Crossed where two limits are so close that nothing is a pass.

    Examples
    --------
    >>> limits = SpreadLimits(lower=1.0)
    >>> rejection = DecisionRule.GUARDED_REJECTION
    >>> round(accepted_by(rejection, limits, 0.0125, confidence=0.95).lower, 4)
    0.9794
    """
    two = math.isfinite(legal.lower) and math.isfinite(legal.upper)
    is_guarded = rule is DecisionRule.GUARDED_ACCEPTANCE
    if (
        is_guarded
        and two
        and no_value_passes(
            u, lower=legal.lower, upper=legal.upper, confidence=confidence
        )
    ):
        return SpreadLimits(lower=math.inf, upper=-math.inf)
    band = _INWARDS[rule] * float(scipy.special.ndtri(confidence)) * u
    return SpreadLimits(lower=legal.lower + band, upper=legal.upper - band)


def spread_of(value: Floats, u: Floats) -> Spread | None:
    """
    Tell how true values spread from values as they were read.

    Parameters
    ----------
    value, u : (cars,) ndarray
        As read, and their standard uncertainty; finite.

    Returns
    -------
    Spread or None
        Normal, as wide as they are read less, in squares, what reading adds; None
        of fewer than five cars, and where they are no further apart than reading
        makes them.

    Examples
    --------
    >>> weights = np.array([80.0, 81.0, 82.0, 83.0, 84.0])
    >>> spread = spread_of(weights, np.full(5, 0.1))
    >>> round((spread.high - spread.low) / 16, 3)
    1.578
    """
    if len(value) < LEAST_CARS:
        return None
    variance = float(np.var(value, ddof=1) - np.mean(u**2))
    if variance <= 0:
        return None
    return normal_spread(float(np.mean(value)), math.sqrt(variance))


@dataclass(frozen=True, kw_only=True, eq=False)
class RuleSeen:
    """
    What a trial has seen of one mandatory rule; ``(cars,)`` throughout.

    ``is_about`` is whether it speaks of the car; value and u are NaN where it was
    not measured.
    """

    legal: SpreadLimits
    value: Floats
    u: Floats
    is_about: Bools


@dataclass(frozen=True, kw_only=True)
class Cost:
    """Looks at cars of which so many refuse a legal or admit an illegal one."""

    rule: DecisionRule
    refused_legal: float
    admitted_illegal: float


def tells(one: RuleSeen) -> bool:
    """
    Tell whether enough is known of a rule for its cost.

    Parameters
    ----------
    one : RuleSeen
        What was seen of it.

    Returns
    -------
    bool
        Enough cars, further apart than reading makes them, and a doubt in reading.

    Examples
    --------
    >>> weights = RuleSeen(
    ...     legal=SpreadLimits(lower=80.0),
    ...     value=np.array([80.0, 81.0, 82.0, 83.0, 84.0]),
    ...     u=np.full(5, 0.1),
    ...     is_about=np.ones(5, dtype=np.bool_),
    ... )
    >>> tells(weights)
    True
    """
    known = one.is_about & ~np.isnan(one.value)
    u = one.u[known]
    return bool(np.any(u > 0)) and spread_of(one.value[known], u) is not None


def cost_of(
    rules: list[RuleSeen],
    looks: Floats,
    *,
    rule: DecisionRule,
    confidence: float,
) -> Cost:
    """
    Count what a decision rule would cost in so many looks at each car.

    Parameters
    ----------
    rules : list of RuleSeen
        The mandatory ones that can be told: of enough cars, with a doubt.
    looks : (cars,) ndarray
        How often each car is looked at.
    rule : DecisionRule
        The decision rule.
    confidence : float
        Of the guard band.

    Returns
    -------
    Cost
        A car is legal where all rules find it so; the rules are taken as independent
        of each other.

    Examples
    --------
    >>> weights = RuleSeen(
    ...     legal=SpreadLimits(lower=82.0),
    ...     value=np.array([80.0, 81.0, 82.0, 83.0, 84.0]),
    ...     u=np.full(5, 0.1),
    ...     is_about=np.ones(5, dtype=np.bool_),
    ... )
    >>> simple = DecisionRule.SIMPLE_ACCEPTANCE
    >>> cost = cost_of([weights], np.ones(5), rule=simple, confidence=0.95)
    >>> round(cost.refused_legal, 3), round(cost.admitted_illegal, 3)
    (0.05, 0.05)
    """
    legal, admitted, both = (np.ones(len(looks)) for _ in range(3))
    for one in rules:
        known = one.is_about & ~np.isnan(one.value)
        spread = spread_of(one.value[known], one.u[known])
        if spread is None:
            continue
        u = float(np.sqrt(np.mean(one.u[known] ** 2)))
        accepted = accepted_by(rule, one.legal, u, confidence=confidence)
        part = shares(spread, u, legal=one.legal, accepted=accepted)
        for all_of, share in (
            (legal, part.legal),
            (admitted, part.admitted),
            (both, part.both),
        ):
            all_of[one.is_about] *= share
    return Cost(
        rule=rule,
        refused_legal=float(np.sum(looks * (legal - both))),
        admitted_illegal=float(np.sum(looks * (admitted - both))),
    )
