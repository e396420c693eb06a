"""
What a rulebook would do to many cars, and which limit would admit so many of them.

Arrays with the cars first, the rules second; values in each rule's own unit.
"""

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import ClassVar, Final

import numpy as np

from inspection.compute.judging import Outcome, Rules, RulesShapeError, evaluate
from inspection.compute.stance import Field
from inventory.compute.arrays import Bools, Codes, Floats, Ints
from inventory.compute.errors import ComputeError

#: A limit that every value is inside of, whatever its unit.
_FAR: Final = 1e8
#: So many limits are tried at once; three rounds find one among thirty thousand.
_AT_ONCE: Final = 33


class ShareError(ComputeError):
    """A share of the cars is not above 0 and at most 1."""

    code: ClassVar[str] = "share_out_of_range"


class CarFound(StrEnum):
    """What all rules together find of a car."""

    ADMITTED = "admitted"
    REFUSED = "refused"
    NOT_MEASURED = "not measured"

    @property
    def code(self) -> int:
        """The number that stands for the word in an array."""
        return tuple(CarFound).index(self)


class Bound(StrEnum):
    """Which of a rule's limits is meant."""

    LOWER = "lower"
    UPPER = "upper"


def found_of_cars(outcome: Codes, admitted: Bools, mandatory: Bools) -> Codes:
    """
    Tell what all mandatory rules together find of each car.

    Parameters
    ----------
    outcome : (cars, rules) ndarray of int8
        Codes of `Outcome`.
    admitted : (cars, rules) ndarray of bool
        Whether the rule lets the car pass.
    mandatory : (rules,) ndarray of bool
        Whether breaking it sends a car back.

    Returns
    -------
    (cars,) ndarray of int8
        Codes of `CarFound`.  A car that some rule refuses is refused, whatever
        was not measured.

    Examples
    --------
    >>> outcome = np.array([[0, 3], [0, 4], [4, 3]], dtype=np.int8)
    >>> found_of_cars(outcome, outcome < 2, np.array([True, True]))
    array([1, 2, 1], dtype=int8)
    """
    missing = outcome == Outcome.NOT_MEASURED.code
    refused = np.any(~admitted & ~missing & mandatory, axis=1)
    lacking = np.any(missing & mandatory, axis=1)
    codes = np.select(
        [refused, lacking],
        [CarFound.REFUSED.code, CarFound.NOT_MEASURED.code],
        CarFound.ADMITTED.code,
    )
    return codes.astype(np.int8)


def outcome_counts(outcome: Codes) -> Ints:
    """
    Count each rule's outcomes.

    Parameters
    ----------
    outcome : (cars, rules) ndarray of int8
        Codes of `Outcome`.

    Returns
    -------
    (rules, outcomes) ndarray of int
        In the order of `Outcome`.

    Examples
    --------
    >>> outcome_counts(np.array([[0, 5], [3, 5]], dtype=np.int8))
    array([[1, 0, 0, 1, 0, 0],
           [0, 0, 0, 0, 0, 2]])
    """
    rules, kinds = outcome.shape[1], len(Outcome)
    places = outcome + kinds * np.arange(rules)
    counts: Ints = np.bincount(places.ravel(), minlength=rules * kinds)
    return counts.reshape(rules, kinds)


@dataclass(frozen=True, kw_only=True)
class AdmittingLimit:
    """
    A limit that admits a share of the cars.

    Attributes
    ----------
    limit : float or None
        The strictest that does, ``None`` where none does: the rule's other limit
        refuses too many.
    admitted : int
        Cars that it admits.
    measured : int
        Cars that the rule is about and that were measured.
    """

    limit: float | None
    admitted: int
    measured: int


def admitting_limit(
    rulebook: Rules, field: Field, *, bound: Bound, share: float, decimals: int
) -> AdmittingLimit:
    """
    Find the strictest limit by which a share of the cars is admitted.

    Judged as the rulebook judges: with its decision rule, its guard band, at the
    worst place of each car, and beside the rule's other limit.  A car of which a
    go gauge says only that it is over or under a slip counts as admitted where
    that is enough.

    Parameters
    ----------
    rulebook : Rules
        One rule, for these cars.
    field : Field
        The cars.
    bound : Bound
        Which limit is sought; the other one stays.
    share : float
        Above 0, at most 1.
    decimals : int
        Decimals of the limit.

    Returns
    -------
    AdmittingLimit
        Counted by judging the cars by that very limit.

    Raises
    ------
    RulesShapeError
        If it is not one rule.
    ShareError
        If the share is out of range.

    Examples
    --------
    >>> from inspection.compute.judging.conformity import DecisionRule
    >>> weights = np.array([[79.0], [80.5], [81.0], [83.0]])
    >>> cars = Field(
    ...     columns=("weight_car",),
    ...     value=weights,
    ...     random=np.zeros_like(weights),
    ...     systematic=np.zeros_like(weights),
    ...     gauge=np.zeros(weights.shape, dtype=np.int64),
    ... )
    >>> rule = Rules(
    ...     lower=np.array([82.0]),
    ...     upper=np.array([np.nan]),
    ...     column=np.array([0]),
    ...     mandatory=np.array([True]),
    ...     taken_only=np.array([False]),
    ...     applies=np.ones((4, 1), dtype=np.bool_),
    ...     decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
    ... )
    >>> admitting_limit(rule, cars, bound=Bound.LOWER, share=0.75, decimals=1)
    AdmittingLimit(limit=80.5, admitted=3, measured=4)
    """
    if not 0 < share <= 1:
        msg = f"A share of {share:g} of the cars; above 0 and at most 1 is expected."
        raise ShareError(msg)
    if rulebook.count != 1:
        msg = f"One rule is expected, not {rulebook.count}."
        raise RulesShapeError(msg)
    return _Search(rulebook, field, bound, decimals).strictest(share)


class _Search:
    """The cars that each of many limits admits, all limits in one evaluation."""

    def __init__(
        self, rulebook: Rules, field: Field, bound: Bound, decimals: int
    ) -> None:
        self.rulebook, self.field = rulebook, field
        # A lower limit is stricter upwards, an upper one downwards.
        self.bound, self.sign = bound, 1 if bound is Bound.LOWER else -1
        self.scale = 10**decimals

    def strictest(self, share: float) -> AdmittingLimit:
        start, end, measured = self._range()
        # 0.95 of 20 cars is 19, not the 20 that 19.000000000000004 rounds up to.
        wanted = max(math.ceil(share * measured - 1e-9), 1)
        best = AdmittingLimit(limit=None, admitted=0, measured=measured)
        while measured and start <= end:
            steps = np.unique(np.linspace(start, end, _AT_ONCE).astype(np.int64))
            counts = self._admitted(steps)
            enough = int(np.sum(counts >= wanted))
            if enough:
                last = int(steps[enough - 1])
                best = AdmittingLimit(
                    limit=self.sign * last / self.scale,
                    admitted=int(counts[enough - 1]),
                    measured=measured,
                )
                start = last + 1
            else:
                end = start - 1
            if enough < len(steps):
                end = min(end, int(steps[enough]) - 1)
        return best

    def _range(self) -> tuple[int, int, int]:
        """Give the first and the last step worth trying, and the cars measured."""
        free = replace(
            self.rulebook, lower=np.full(1, np.nan), upper=np.full(1, np.nan)
        )
        wide, tight = (
            evaluate(_with_limits(free, self.bound, np.full(1, limit)), self.field)
            for limit in (-self.sign * _FAR, self.sign * _FAR)
        )
        applicable = wide.outcome[:, 0] != Outcome.NOT_APPLICABLE.code
        # A slip that stops says nothing of a limit far below, one that goes nothing
        # of a limit far above: either is a reading all the same.
        read = (wide.outcome[:, 0] != Outcome.NOT_MEASURED.code) | (
            tight.outcome[:, 0] != Outcome.NOT_MEASURED.code
        )
        known = ~np.isnan(wide.value[:, 0])
        if not known.any():
            return 0, -1, int(np.sum(applicable & read))
        value = self.sign * wide.value[known, 0] * self.scale
        doubt = wide.guard_band[known, 0] * self.scale
        start, end = math.floor(np.min(value - doubt)), math.ceil(np.max(value + doubt))
        other = self.rulebook.upper if self.sign > 0 else self.rulebook.lower
        if not np.isnan(other[0]):
            end = min(end, math.floor(self.sign * other[0] * self.scale + 1e-6))
        return min(start, end) - 1, end, int(np.sum(applicable & read))

    def _admitted(self, steps: Ints) -> Ints:
        limits = self.sign * steps / self.scale
        findings = evaluate(_with_limits(self.rulebook, self.bound, limits), self.field)
        about = findings.outcome != Outcome.NOT_APPLICABLE.code
        counts: Ints = np.sum(findings.admitted & about, axis=0)
        return counts


def _with_limits(rulebook: Rules, bound: Bound, limits: Floats) -> Rules:
    """Repeat one rule with each of these limits."""
    place = np.zeros(len(limits), dtype=np.intp)
    lower, upper = rulebook.lower[place], rulebook.upper[place]
    return Rules(
        lower=limits if bound is Bound.LOWER else lower,
        upper=limits if bound is Bound.UPPER else upper,
        column=rulebook.column[place],
        mandatory=rulebook.mandatory[place],
        taken_only=rulebook.taken_only[place],
        applies=rulebook.applies[:, place],
        decision_rule=rulebook.decision_rule,
        confidence=rulebook.confidence,
    )


@dataclass(frozen=True, kw_only=True)
class Bins:
    """Counts of values between edges; one edge more than counts."""

    edges: tuple[float, ...]
    counts: tuple[int, ...]


def bins_of(values: Floats, *, decimals: int, most: int = 30) -> Bins:
    """
    Count values in bars whose edges are round numbers.

    Parameters
    ----------
    values : (n,) ndarray
        NaN are left out.
    decimals : int
        Decimals that the quantity is shown with; no bar is narrower.
    most : int
        Most bars.

    Returns
    -------
    Bins
        A value on an edge counts above it; none where there is no value.

    Examples
    --------
    >>> bins_of(np.array([0.80, 0.81, 0.81, 0.83]), decimals=2)
    Bins(edges=(0.8, 0.81, 0.82, 0.83, 0.84), counts=(1, 2, 0, 1))
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return Bins(edges=(), counts=())
    # Whole numbers of the last decimal: 0.81 / 0.01 is 81.00000000000001.
    whole = np.floor(known * 10**decimals + 1e-6).astype(np.int64)
    width = _bar_width(int(whole.max() - whole.min()) + 1, most)
    first, last = int(whole.min()) // width, int(whole.max()) // width
    counts = np.bincount(whole // width - first, minlength=last - first + 1)
    edges = (width * np.arange(first, last + 2)) / 10**decimals
    return Bins(edges=tuple(edges.tolist()), counts=tuple(counts.tolist()))


def _bar_width(span: int, most: int) -> int:
    """Give the least of 1, 2, 5, 10, 20 … that covers a span by so many bars."""
    power = 1
    while True:
        for step in (1, 2, 5):
            if span <= step * power * (most - 1):
                return step * power
        power *= 10
