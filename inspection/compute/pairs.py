"""
Each value beside each rule that judges it, and which of them decides.

Arrays with the cars first; the pairs, or the rules, second.
"""

from dataclasses import dataclass, replace
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.candidates import Candidate, Candidates
from inspection.compute.conformity import Judgement, Outcome, judge
from inspection.compute.fields import Field
from inspection.compute.quantities import QUANTITIES, Kind, column_owner
from inspection.compute.rule_arrays import Findings, Rules

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]
IntArray: TypeAlias = NDArray[np.int64]
CodeArray: TypeAlias = NDArray[np.int8]
Judged: TypeAlias = Judgement[CodeArray, BoolArray, FloatArray]
ScalarT = TypeVar("ScalarT", bound=np.generic)

_AT_LEAST, _AT_MOST = 1, -1
# A millionth of the unit, the step that margins are rounded to.
_LEAST_MARGIN = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class _Pairs:
    """
    Every candidate beside the rule that judges it.

    ``rule``, ``point`` and ``taken`` are ``(pairs,)``, the rest ``(cars, pairs)``.
    """

    rule: IntArray
    point: CodeArray
    taken: BoolArray
    value: FloatArray
    u: FloatArray
    present: BoolArray
    bound: CodeArray

    @property
    def starts(self) -> IntArray:
        """Where each rule's pairs begin."""
        return np.flatnonzero(np.diff(self.rule, prepend=-1))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Comparison:
    """What would be derived, and whether what was taken differs; (cars, rules)."""

    derived: FloatArray
    derived_u: FloatArray
    disagrees: BoolArray


def find(rules: Rules, field: Field) -> Findings:
    """
    Judge a handful of cars.

    Parameters
    ----------
    rules : Rules
        The rules, for these cars.
    field : Field
        The cars, two at least.

    Returns
    -------
    Findings
        ``(cars, rules)`` throughout.
    """
    keys = _keys(rules, field)
    candidates = Candidates(field, keys, traced=True)
    pairs = _pair(rules, keys, candidates, cars=field.cars)
    judged = _judge(rules, pairs)
    decisive = _decisive(pairs, judged)
    about = rules.applies & ~_impossible(keys, candidates, cars=field.cars)
    comparison = _compare(keys, candidates, cars=field.cars)
    outcome = _of(judged.outcome, decisive)
    measured = about & (outcome != Outcome.NOT_MEASURED.code)

    def known(table: FloatArray) -> FloatArray:
        return np.where(measured, _of(table, decisive), np.nan)

    return Findings(
        outcome=np.where(about, outcome, np.int8(Outcome.NOT_APPLICABLE.code)),
        admitted=~about | _of(judged.admitted, decisive),
        value=known(pairs.value),
        u=known(pairs.u),
        margin=known(judged.margin),
        guard_band=known(judged.guard_band),
        probability=known(judged.probability),
        taken=measured & pairs.taken[decisive],
        point=np.where(measured, pairs.point[decisive], np.int8(-1)),
        derived=comparison.derived,
        derived_u=comparison.derived_u,
        disagrees=comparison.disagrees & about,
    )


def bare_margins(rules: Rules, field: Field) -> FloatArray:
    """
    Take the margins of a handful of cars without any uncertainty.

    Parameters
    ----------
    rules : Rules
        The rules, for these cars.
    field : Field
        The cars, two at least.

    Returns
    -------
    (cars, rules) ndarray
        NaN not measured or not applicable.
    """
    keys = _keys(rules, field)
    candidates = Candidates(field, keys, traced=False)
    pairs = _pair(rules, keys, candidates, cars=field.cars)
    lower, upper = rules.lower[pairs.rule], rules.upper[pairs.rule]
    margin = np.fmin(pairs.value - lower, upper - pairs.value)
    known = pairs.bound != 0
    if known.any():
        margin = np.where(known, _for_certain(margin, pairs, lower, upper), margin)
    here = np.where(pairs.present, margin, np.inf)
    # Unlike fmin, a minimum keeps the NaN of a place that was not measured.
    least = np.minimum.reduceat(here, pairs.starts, axis=1)
    about = rules.applies & ~_impossible(keys, candidates, cars=field.cars)
    return np.where(about, np.round(least, 6), np.nan)


def _keys(rules: Rules, field: Field) -> list[str]:
    return [column_owner(field.quantities[column])[0] for column in rules.column]


def _pair(
    rules: Rules, keys: list[str], candidates: Candidates, *, cars: int
) -> _Pairs:
    pairs = [
        (rule, one)
        for rule, key in enumerate(keys)
        for one in candidates.to_judge(key, taken_only=bool(rules.taken_only[rule]))
    ]
    ones = [one for _, one in pairs]

    def table(arrays: list[NDArray[ScalarT]], kind: type[ScalarT]) -> NDArray[ScalarT]:
        return np.array(arrays, dtype=kind).reshape(len(pairs), cars).T

    return _Pairs(
        rule=np.array([rule for rule, _ in pairs], dtype=np.int64),
        point=np.array([one.point.code for one in ones], dtype=np.int8),
        taken=np.array([one.taken for one in ones], dtype=np.bool_),
        value=table([one.value for one in ones], np.float64),
        u=table([one.u for one in ones], np.float64),
        present=table([one.present for one in ones], np.bool_),
        bound=table([one.bound for one in ones], np.int8),
    )


def _judge(rules: Rules, pairs: _Pairs) -> Judged:
    lower, upper = rules.lower[pairs.rule], rules.upper[pairs.rule]
    judged = judge(
        pairs.value,
        pairs.u,
        lower=lower,
        upper=upper,
        rule=rules.decision_rule,
        confidence=rules.confidence,
    )
    return _judge_bounds(judged, pairs, lower, upper)


def _judge_bounds(
    judged: Judged, pairs: _Pairs, lower: FloatArray, upper: FloatArray
) -> Judged:
    """Judge what is only known to be at least, or at most, so much: a go gauge."""
    known = pairs.bound != 0
    breaks, meets = _said_by_bounds(pairs, lower, upper)
    outcome = np.select(
        [~known, breaks, meets],
        [judged.outcome, Outcome.FAIL.code, Outcome.PASS.code],
        Outcome.NOT_MEASURED.code,
    ).astype(np.int8)
    return replace(
        judged,
        outcome=outcome,
        admitted=np.where(known, outcome == Outcome.PASS.code, judged.admitted),
        probability=np.where(known, np.nan, judged.probability),
    )


def _said_by_bounds(
    pairs: _Pairs, lower: FloatArray, upper: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Tell which bounds break a limit for certain, and which meet it."""
    at_least, at_most = pairs.bound == _AT_LEAST, pairs.bound == _AT_MOST
    above = np.round(pairs.value - lower, 6)
    below = np.round(upper - pairs.value, 6)
    meets = (np.isnan(lower) | (at_least & (above >= 0))) & (
        np.isnan(upper) | (at_most & (below >= 0))
    )
    # The limit slip that does not go says below the limit, not at it.
    return (at_most & (above <= 0)) | (at_least & (below <= 0)), meets


def _for_certain(
    margin: FloatArray, pairs: _Pairs, lower: FloatArray, upper: FloatArray
) -> FloatArray:
    """Keep of a go gauge's margin what is certain; NaN where it says neither."""
    breaks, meets = _said_by_bounds(pairs, lower, upper)
    return np.select(
        [breaks, meets], [np.minimum(margin, -_LEAST_MARGIN), margin], np.nan
    )


def _decisive(pairs: _Pairs, judged: Judged) -> IntArray:
    """For each rule, the position of the pair with the worst outcome."""
    code = np.where(pairs.present, judged.outcome, np.int8(-1))
    worst = code == np.maximum.reduceat(code, pairs.starts, axis=1)[:, pairs.rule]
    slack = np.nan_to_num(judged.margin - judged.guard_band)
    room = np.where(worst, slack, np.inf)
    least = room == np.minimum.reduceat(room, pairs.starts, axis=1)[:, pairs.rule]
    last = len(pairs.rule)
    position = np.where(least, np.arange(last), last)
    return np.minimum.reduceat(position, pairs.starts, axis=1)


def _of(table: NDArray[ScalarT], decisive: IntArray) -> NDArray[ScalarT]:
    return np.take_along_axis(table, decisive, axis=1)


def _impossible(keys: list[str], candidates: Candidates, *, cars: int) -> BoolArray:
    columns = [candidates.impossible(key) for key in keys]
    return np.array(columns, dtype=np.bool_).reshape(len(keys), cars).T


def _compare(keys: list[str], candidates: Candidates, *, cars: int) -> _Comparison:
    derived = np.full((cars, len(keys)), np.nan)
    derived_u = np.full((cars, len(keys)), np.nan)
    disagrees = np.zeros((cars, len(keys)), dtype=np.bool_)
    for rule, key in enumerate(keys):
        if QUANTITIES[key].kind is Kind.TAKEN_OR_DERIVED:
            value, u = _least(candidates.derived(key), cars=cars)
            (taken,) = candidates.taken(key)
            derived[:, rule], derived_u[:, rule] = value, u
            disagrees[:, rule] = _disagrees(taken, value, u)
    return _Comparison(derived=derived, derived_u=derived_u, disagrees=disagrees)


def _least(
    candidates: tuple[Candidate, ...], *, cars: int
) -> tuple[FloatArray, FloatArray]:
    least, u = np.full((2, cars), np.inf)
    for one in candidates:
        # A place that was not measured leaves the least unknown.
        less = one.present & ~(one.value >= least) & ~np.isnan(least)
        u = np.where(less, one.u, u)
        least = np.where(less, one.value, least)
    return least, np.where(np.isnan(least), np.nan, u)


def _disagrees(taken: Candidate, value: FloatArray, u: FloatArray) -> BoolArray:
    apart = value - taken.value
    far = np.abs(apart) > 2 * np.hypot(taken.u, u)
    told = np.select(
        [taken.bound == _AT_LEAST, taken.bound == _AT_MOST],
        [apart < 0, apart > 0],
        True,  # noqa: FBT003
    )
    return far & told
