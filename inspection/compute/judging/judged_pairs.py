"""
Each value beside each rule that judges it, and which of them decides.

Arrays with the cars first; the pairs, or the rules, second.
"""

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging.candidates import Candidate, Candidates
from inspection.compute.judging.conformity import (
    conformance_probability,
    judge_outcome,
)
from inspection.compute.judging.outcomes import Outcome, admits
from inspection.compute.judging.pairs import Judged, JudgedPairs, Pairs, make_pairs
from inspection.compute.judging.rule_arrays import Findings, Rules
from inspection.compute.judging.together import judge_together
from inspection.compute.judging.two_slips import judge_between
from inspection.compute.quantities import QUANTITIES, Kind, column_owner
from inspection.compute.stance import (
    AT_LEAST,
    AT_MOST,
    BETWEEN,
    VALUE,
    Field,
    Ground,
    is_value,
)
from inventory.compute.arrays import Bools, Floats, Ints

ScalarT = TypeVar("ScalarT", bound=np.generic)

# A millionth of the unit, the step that margins are rounded to.
_LEAST_MARGIN = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class _Comparison:
    """What would be derived, and whether what was taken differs; (cars, rules)."""

    derived: Floats
    derived_u: Floats
    disagrees: Bools


def find(
    rules: Rules,
    field: Field,
    *,
    on_others: bool = False,
    ground: Ground | None = None,
) -> Findings:
    """
    Judge a handful of cars.

    Parameters
    ----------
    rules : Rules
        The rules, for these cars.
    field : Field
        The cars, two at least.
    on_others, ground : optional
        As for `Standing`.

    Returns
    -------
    Findings
        ``(cars, rules)`` throughout.
    """
    keys = _keys(rules, field)
    candidates = Candidates(
        field, keys, traced=True, on_others=on_others, ground=ground
    )
    pairs = make_pairs(rules, keys, candidates, cars=field.car_count)
    together = judge_together(_judge(rules, pairs), rules, pairs, candidates)
    judged = together.by
    decisive = _decisive(pairs, judged)
    about = rules.applies & ~_impossible(keys, candidates, cars=field.car_count)
    comparison = _compare(keys, candidates, cars=field.car_count)
    outcome = _of(judged.outcome, decisive)
    measured = about & (outcome != Outcome.NOT_MEASURED.code)

    def known(table: Floats) -> Floats:
        return np.where(measured, _of(table, decisive), np.nan)

    value, u = known(pairs.value), known(pairs.u)
    bound, places = _of(pairs.bound, decisive), _of(together.places, decisive)
    # Of a place that was judged by itself the probability is still to be taken.
    alone = conformance_probability(value, u, lower=rules.lower, upper=rules.upper)
    is_alone = (bound == VALUE) & (places == 0)
    return Findings(
        outcome=np.where(about, outcome, np.int8(Outcome.NOT_APPLICABLE.code)),
        admitted=~about | _of(judged.admitted, decisive),
        value=value,
        u=u,
        margin=known(judged.margin),
        guard_band=known(judged.guard_band),
        probability=np.where(is_alone, alone, known(judged.probability)),
        critical=known(together.critical),
        places=np.where(measured, places, np.int8(0)),
        half_width=np.where(bound == BETWEEN, known(pairs.half_width), np.nan),
        bound=np.where(measured, bound, np.int8(0)),
        taken=measured & pairs.taken[decisive].T,
        point=np.where(measured, pairs.point[decisive].T, np.int8(-1)),
        derived=comparison.derived,
        derived_u=comparison.derived_u,
        disagrees=comparison.disagrees & about,
    )


def bare_margins(rules: Rules, field: Field, *, on_others: bool = False) -> Floats:
    """
    Take the margins of a handful of cars without any uncertainty.

    Parameters
    ----------
    rules : Rules
        The rules, for these cars.
    field : Field
        The cars, two at least.
    on_others : bool, optional
        As for `Standing`.

    Returns
    -------
    (cars, rules) ndarray
        NaN not measured or not applicable.
    """
    keys = _keys(rules, field)
    candidates = Candidates(field, keys, traced=False, on_others=on_others)
    pairs = make_pairs(rules, keys, candidates, cars=field.car_count)
    lower, upper = rules.lower[pairs.rule], rules.upper[pairs.rule]
    margin = np.fmin(pairs.value - lower, upper - pairs.value)
    known = ~is_value(pairs.bound)
    if known.any():
        margin = np.where(known, _for_certain(margin, pairs, lower, upper), margin)
    here = np.where(pairs.present, margin, np.inf)
    # Unlike fmin, a minimum keeps the NaN of a place that was not measured.
    least = np.minimum.reduceat(here, pairs.starts, axis=1)
    about = rules.applies & ~_impossible(keys, candidates, cars=field.car_count)
    return np.where(about, np.round(least, 6), np.nan)


def _keys(rules: Rules, field: Field) -> list[str]:
    return [column_owner(field.columns[column])[0] for column in rules.column]


def _judge(rules: Rules, pairs: Pairs) -> JudgedPairs:
    lower, upper = rules.lower[pairs.rule], rules.upper[pairs.rule]
    judged = judge_outcome(
        pairs.value,
        pairs.u,
        lower=lower,
        upper=upper,
        rule=rules.decision_rule,
        confidence=rules.confidence,
    )
    judged = _judge_bounds(judged, pairs, lower, upper)
    shape = pairs.value.shape
    judged_pairs = JudgedPairs(
        by=judged,
        critical=np.broadcast_to(np.nan, shape),
        places=np.broadcast_to(np.int8(0), shape),
    )
    return _judge_slips(judged_pairs, rules, pairs)


def _judge_slips(judged_pairs: JudgedPairs, rules: Rules, pairs: Pairs) -> JudgedPairs:
    """Judge anew what lies between two slips: flat, with the slips' own error."""
    at = np.nonzero((pairs.bound == BETWEEN) & pairs.present)
    if not len(at[0]):
        return judged_pairs
    rule = pairs.rule[at[1]]
    slips = judge_between(
        pairs.value[at],
        pairs.half_width[at],
        pairs.slips_u[at],
        lower=rules.lower[rule],
        upper=rules.upper[rule],
        confidence=rules.confidence,
    )

    def placed(table: NDArray[ScalarT], some: NDArray[ScalarT]) -> NDArray[ScalarT]:
        table = table.copy()
        table[at] = some
        return table

    outcome = placed(judged_pairs.by.outcome, slips.outcome)
    return replace(
        judged_pairs,
        by=replace(
            judged_pairs.by,
            outcome=outcome,
            admitted=placed(
                judged_pairs.by.admitted, admits(slips.outcome, rules.decision_rule)
            ),
            guard_band=placed(judged_pairs.by.guard_band, slips.guard_band),
            probability=placed(judged_pairs.by.probability, slips.probability),
        ),
        critical=placed(judged_pairs.critical, slips.critical),
    )


def _judge_bounds(judged: Judged, pairs: Pairs, lower: Floats, upper: Floats) -> Judged:
    """Judge what is only known to be at least, or at most, so much: a go gauge."""
    known = ~is_value(pairs.bound)
    if not known.any():
        return judged
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


def _said_by_bounds(pairs: Pairs, lower: Floats, upper: Floats) -> tuple[Bools, Bools]:
    """Tell which bounds break a limit for certain, and which meet it."""
    at_least, at_most = pairs.bound == AT_LEAST, pairs.bound == AT_MOST
    above = np.round(pairs.value - lower, 6)
    below = np.round(upper - pairs.value, 6)
    meets = (np.isnan(lower) | (at_least & (above >= 0))) & (
        np.isnan(upper) | (at_most & (below >= 0))
    )
    # The limit slip that does not go says below the limit, not at it.
    return (at_most & (above <= 0)) | (at_least & (below <= 0)), meets


def _for_certain(margin: Floats, pairs: Pairs, lower: Floats, upper: Floats) -> Floats:
    """Keep of a go gauge's margin what is certain; NaN where it says neither."""
    breaks, meets = _said_by_bounds(pairs, lower, upper)
    return np.select(
        [breaks, meets], [np.minimum(margin, -_LEAST_MARGIN), margin], np.nan
    )


def _decisive(pairs: Pairs, judged: Judged) -> Ints:
    """For each rule and car, the position of the pair with the worst outcome."""
    # A pair is one run of memory.
    code = np.where(pairs.present, judged.outcome, np.int8(-1)).T
    worst = code == pairs.over_places(np.maximum, code)[pairs.rule]
    slack = (judged.margin - judged.guard_band).T
    room = np.where(worst, np.where(np.isnan(slack), 0.0, slack), np.inf)
    least = room == pairs.over_places(np.minimum, room)[pairs.rule]
    last = len(pairs.rule)
    position = np.where(least, np.arange(last)[:, None], last)
    return pairs.over_places(np.minimum, position)


def _of(table: NDArray[ScalarT], decisive: Ints) -> NDArray[ScalarT]:
    """Take of (cars, pairs) those that decide, (cars, rules)."""
    pair_by_pair = table.T.reshape(-1)
    return np.take(pair_by_pair, decisive * len(table) + np.arange(len(table))).T


def _impossible(keys: list[str], candidates: Candidates, *, cars: int) -> Bools:
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


def _least(candidates: tuple[Candidate, ...], *, cars: int) -> tuple[Floats, Floats]:
    least, u = np.full((2, cars), np.inf)
    for one in candidates:
        # A place that was not measured leaves the least unknown.
        less = one.present & ~(one.value >= least) & ~np.isnan(least)
        u = np.where(less, one.u, u)
        least = np.where(less, one.value, least)
    return least, np.where(np.isnan(least), np.nan, u)


def _disagrees(taken: Candidate, value: Floats, u: Floats) -> Bools:
    apart = value - taken.value
    far = np.abs(apart) > 2 * np.hypot(taken.u, u)
    # A slip says of the value which way it is from it, and no more.
    is_met = (taken.bound == AT_LEAST) & ~(apart < 0)
    is_met |= (taken.bound == AT_MOST) & ~(apart > 0)
    differs: Bools = far & ~is_met
    return differs
