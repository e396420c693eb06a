"""
The places of one rule, judged together where several are near the limit.

A least of several places reads low: of two places of a car exactly at the limit, one
is outside by its own guard band twice as often as stated.  So a car is refused under
guarded rejection only where its least margin is below the critical value of the
places together, and the probability of being legal is that of all of them at once.
Under guarded acceptance each place is inside by its own guard band, an
intersection-union test that keeps its risk (Berger, Multiparameter hypothesis testing
and acceptance sampling, Technometrics 24, 1982).

What is dear is done only where the least place is within three u of the limit and
another one too.
"""

from dataclasses import replace
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging.candidates import Candidates
from inspection.compute.judging.joint import critical_value, joint_probability
from inspection.compute.judging.outcomes import DecisionRule, Outcome, admits
from inspection.compute.judging.pairs import JudgedPairs, Pairs
from inspection.compute.judging.rule_arrays import Rules
from inspection.compute.stance import VALUE
from inventory.compute.arrays import Bools, Floats

# Cars down, places across.
_At: TypeAlias = tuple[NDArray[np.intp], NDArray[np.intp]]

#: So many u from a limit a place is near it.
NEAR_U: Final = 3.0
_GRID: Final = 1e6


def judge_together(
    judged: JudgedPairs, rules: Rules, pairs: Pairs, candidates: Candidates
) -> JudgedPairs:
    """
    Judge the places of each rule together.

    Parameters
    ----------
    judged : JudgedPairs
        Each place by itself.
    rules : Rules
        The rules, for these cars.
    pairs : Pairs
        The places beside their rules.
    candidates : Candidates
        Knows how their errors go together.

    Returns
    -------
    JudgedPairs
        The joint probability at each place of a rule, and under guarded rejection the
        outcome by the critical value, which is kept.
    """
    ends = np.append(pairs.starts, len(pairs.rule))
    several = np.flatnonzero(np.diff(ends) > 1)
    if not several.size:
        return judged
    away = _away(judged, pairs)
    # What was not measured is NaN, and no number is near it.
    near = np.abs(pairs.over_places(np.minimum, away)) < NEAR_U
    several = several[near[several].any(axis=1)]
    if not several.size:
        return judged
    work = _Work(judged, rules, pairs, candidates)
    for rule in several.tolist():
        cars, some = np.flatnonzero(near[rule]), slice(*ends[rule : rule + 2].tolist())
        work.judge(some, cars, away[some, cars].T)
    return work.judged()


def _away(judged: JudgedPairs, pairs: Pairs) -> Floats:
    """Give how many u each pair is from its limit, (pairs, cars); infinite if none."""
    # A pair is one run of memory.
    u, there = pairs.u.T, pairs.present.T
    away = np.full(u.shape, np.inf)
    np.divide(judged.by.margin.T, u, out=away, where=there & (u > 0))
    return away


class _Work:
    """Tables that are written in place, where several places are near."""

    def __init__(
        self, judged: JudgedPairs, rules: Rules, pairs: Pairs, candidates: Candidates
    ) -> None:
        self._found, self._rules = judged, rules
        self._pairs, self._candidates = pairs, candidates
        by = judged.by
        self._outcome, self._guard = by.outcome.copy(), by.guard_band.copy()
        self._probability = by.probability.copy()
        self._critical, self._places = judged.critical.copy(), judged.places.copy()
        self._is_judged = rules.decision_rule is DecisionRule.GUARDED_REJECTION

    def judged(self) -> JudgedPairs:
        by = self._found.by
        admitted = by.admitted
        if self._is_judged:
            changed = self._outcome != by.outcome
            told = admits(self._outcome, self._rules.decision_rule)
            admitted = np.where(changed, told, admitted)
        return replace(
            self._found,
            by=replace(
                by,
                outcome=self._outcome,
                admitted=admitted,
                guard_band=self._guard,
                probability=self._probability,
            ),
            critical=self._critical,
            places=self._places,
        )

    def judge(self, some: slice, rows: NDArray[np.intp], away: Floats) -> None:
        """Judge the pairs of one rule on the cars that are near its limit."""
        pairs = self._pairs
        is_plain = (pairs.bound[rows, some] == VALUE) & (pairs.u[rows, some] > 0)
        is_plain |= ~pairs.present[rows, some]
        counts = (away < NEAR_U).sum(axis=1)
        is_several = is_plain.all(axis=1) & (counts > 1)
        rows, counts = rows[is_several], counts[is_several]
        if not len(rows):
            return
        order = np.argsort(away[is_several], axis=1)
        spread = self._candidates.covariance(pairs.traced[some], rows)
        for count in np.unique(counts).tolist():
            here = counts == count
            at = rows[here][:, None], order[here, :count]
            shared = np.take_along_axis(spread[here], at[1][:, :, None], axis=1)
            shared = np.take_along_axis(shared, at[1][:, None, :], axis=2)
            self._together(some, at, shared)

    def _together(self, some: slice, at: _At, shared: Floats) -> None:
        """Judge so many places of some cars together."""
        pairs, by = self._pairs, self._found.by
        whole = at[0], at[1] + some.start
        u, margin = pairs.u[whole], by.margin[whole]
        far, is_upper = _other_side(self._rules, pairs, int(some.start), whole)
        sign = np.where(is_upper, -1.0, 1.0) / u
        likeness = shared * sign[:, :, None] * sign[:, None, :]
        # The last digits of a sum may differ beside other cars.
        chance = np.round(joint_probability(margin / u, far / u, likeness), 6)
        self._probability[whole] = chance[:, None]
        self._places[whole] = margin.shape[1]
        is_out = np.flatnonzero((margin < 0).any(axis=1))
        if self._is_judged and len(is_out):
            here = whole[0][is_out], whole[1][is_out]
            self._decide(here, likeness[is_out])

    def _decide(self, at: _At, likeness: Floats) -> None:
        factor = critical_value(likeness, self._rules.confidence)[:, None]
        margin = np.rint(self._found.by.margin[at] * _GRID)
        guard = factor * self._pairs.u[at]
        out = margin < 0
        worse = np.where(
            margin < -np.rint(guard * _GRID),
            np.int8(Outcome.FAIL.code),
            np.int8(Outcome.CONDITIONAL_FAIL.code),
        )
        self._outcome[at] = np.where(out, worse, self._outcome[at])
        self._guard[at] = np.where(out, guard, self._guard[at])
        self._critical[at] = np.where(out, factor, self._critical[at])


def _other_side(
    rules: Rules, pairs: Pairs, first: int, at: _At
) -> tuple[Floats, Bools]:
    """Give the distance to the limit that is not nearest, and if that is the lower."""
    rule, value = pairs.rule[first], pairs.value[at]
    below, above = value - rules.lower[rule], rules.upper[rule] - value
    below = np.where(np.isnan(below), np.inf, below)
    above = np.where(np.isnan(above), np.inf, above)
    return np.maximum(below, above), above < below
