"""A draft tried on every stored car: who would change, by which rule, by how much."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging import Outcome
from inspection.compute.night import Decision
from inspection.compute.rulebooks import CarFound, matching, outcome_counts
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    LoadedRule,
    rule_as_text,
)
from inspection.loaders.rulebooks.judged_cars import Judged, judge_by
from inspection.loaders.rulebooks.rule_costs import (
    SeasonCosts,
    looks_of_season,
    season_costs,
)
from inspection.loaders.rulebooks.stored_cars import Choice, StoredCar, StoredCars
from inventory.compute.numbers import decimals_beside, format_value

FOUND, OUTCOMES = tuple(CarFound), tuple(Outcome)
#: So many cars of one kind of change are shown by name.
MOST_NAMED = 100


@dataclass(frozen=True, kw_only=True)
class TriedRule:
    """What a rule of the draft does, beside the rule that it was."""

    rule: LoadedRule
    was: LoadedRule | None
    admitted: int
    refused: int
    not_measured: int
    newly_refused: int
    newly_admitted: int
    least_margin: float | None


@dataclass(frozen=True, kw_only=True)
class Reason:
    """A rule that refuses a car, and the distance to its limit."""

    rule: LoadedRule
    outcome: Outcome
    margin: float | None

    @property
    def short_by(self) -> str:
        if self.margin is None or self.rule.required is not None:
            return ""
        quantity = self.rule.quantity
        away = abs(self.margin)
        decimals = decimals_beside(away, [0.0], decimals=quantity.decimals)
        return format_value(away, decimals=decimals, unit=quantity.unit)


@dataclass(frozen=True, kw_only=True)
class TriedCar:
    """A car that would change, and which rules change it, the worst first."""

    car: StoredCar
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, kw_only=True)
class CarChange:
    """Cars that would go from one finding to another; the first by name."""

    before: CarFound
    after: CarFound
    count: int
    cars: tuple[TriedCar, ...]


@dataclass(frozen=True, kw_only=True)
class Trial:
    """A draft against the stored cars, beside the edition in force."""

    draft: LoadedEdition
    against: LoadedEdition | None
    choice: Choice
    cars: int
    counts: dict[tuple[CarFound, CarFound], int]
    rules: tuple[TriedRule, ...]
    dropped: tuple[LoadedRule, ...]
    changes: tuple[CarChange, ...]
    season: SeasonCosts

    def before(self, outcome: CarFound) -> int:
        return sum(self.counts[outcome, after] for after in CarFound)

    def after(self, outcome: CarFound) -> int:
        return sum(self.counts[before, outcome] for before in CarFound)


def try_edition(
    draft: LoadedEdition,
    against: LoadedEdition | None,
    stored: StoredCars,
    choice: Choice,
) -> Trial:
    """Judge the stored cars by a draft, and by the edition in force."""
    after, before = judge_by(
        [draft] if against is None else [draft, against], stored, choice.stage
    )
    if before is None:
        found_before = np.array(
            [_CODES_OF_DECISIONS[car.decision] for car in stored.cars], dtype=np.int8
        )
    else:
        found_before = before.found
    return Trial(
        draft=draft,
        against=against,
        choice=choice,
        cars=len(stored.cars),
        counts=_counts(found_before, after.found),
        rules=_tried_rules(after, before),
        dropped=_dropped(after, before),
        changes=_changes(stored, found_before, after, before),
        season=season_costs(draft, after, stored, choice, looks_of_season(choice)),
    )


_CODES_OF_DECISIONS = {
    Decision.PASSED: CarFound.ADMITTED.code,
    Decision.SENT_BACK: CarFound.REFUSED.code,
}


def _counts(
    before: NDArray[np.int8], after: NDArray[np.int8]
) -> dict[tuple[CarFound, CarFound], int]:
    kinds = len(FOUND)
    table = np.bincount(
        before.astype(np.int64) * kinds + after, minlength=kinds * kinds
    ).reshape(kinds, kinds)
    return {
        (one, other): int(table[one.code, other.code])
        for one in CarFound
        for other in CarFound
    }


def _matches(after: Judged, before: Judged | None) -> tuple[int | None, ...]:
    if before is None:
        return (None,) * len(after.rules)
    texts = (
        tuple(rule_as_text(rule) for rule in judged.rules) for judged in (before, after)
    )
    return matching(*texts)


def _tried_rules(after: Judged, before: Judged | None) -> tuple[TriedRule, ...]:
    counts = outcome_counts(after.outcome)
    refused = after.refused
    about = after.outcome != Outcome.NOT_APPLICABLE.code
    admitted = after.admitted & about
    tried = []
    for place, (rule, match) in enumerate(
        zip(after.rules, _matches(after, before), strict=True)
    ):
        was_refused = np.zeros(len(refused), dtype=np.bool_)
        if before is not None and match is not None:
            was_refused = before.refused[:, match]
        margin = after.margin[:, place]
        tried.append(
            TriedRule(
                rule=rule,
                was=None if before is None or match is None else before.rules[match],
                admitted=int(admitted[:, place].sum()),
                refused=int(refused[:, place].sum()),
                not_measured=int(counts[place, Outcome.NOT_MEASURED.code]),
                newly_refused=int((refused[:, place] & ~was_refused).sum()),
                newly_admitted=int((admitted[:, place] & was_refused).sum()),
                least_margin=None
                if np.isnan(margin).all()
                else float(np.nanmin(margin)),
            )
        )
    return tuple(tried)


def _dropped(after: Judged, before: Judged | None) -> tuple[LoadedRule, ...]:
    if before is None:
        return ()
    kept = set(_matches(after, before))
    return tuple(rule for at, rule in enumerate(before.rules) if at not in kept)


#: The changes that are told by name, the one that an owner feels first.
_TOLD = (
    (CarFound.ADMITTED, CarFound.REFUSED),
    (CarFound.NOT_MEASURED, CarFound.REFUSED),
    (CarFound.REFUSED, CarFound.ADMITTED),
    (CarFound.ADMITTED, CarFound.NOT_MEASURED),
    (CarFound.REFUSED, CarFound.NOT_MEASURED),
    (CarFound.NOT_MEASURED, CarFound.ADMITTED),
)


def _changes(
    stored: StoredCars,
    found_before: NDArray[np.int8],
    after: Judged,
    before: Judged | None,
) -> tuple[CarChange, ...]:
    changes = []
    for one, other in _TOLD:
        rows = np.flatnonzero((found_before == one.code) & (after.found == other.code))
        if not rows.size:
            continue
        cause = after
        if other is CarFound.ADMITTED and before is not None:
            cause = before
        rows = rows[np.argsort(_worst_margins(cause, rows), kind="stable")]
        changes.append(
            CarChange(
                before=one,
                after=other,
                count=len(rows),
                cars=tuple(
                    TriedCar(car=stored.cars[row], reasons=_reasons(cause, row))
                    for row in rows[:MOST_NAMED].tolist()
                ),
            )
        )
    return tuple(changes)


def _worst_margins(judged: Judged, rows: NDArray[np.intp]) -> NDArray[np.float64]:
    """Give each car's least margin under the rules that refuse it."""
    refusing = judged.refused[rows] & judged.mandatory
    margins = np.where(refusing, judged.margin[rows], np.inf)
    least: NDArray[np.float64] = np.min(
        np.nan_to_num(margins, nan=np.inf), axis=1, initial=np.inf
    )
    return least


def _reasons(judged: Judged, row: int) -> tuple[Reason, ...]:
    refusing = judged.mandatory & judged.refused[row]
    # Of a refused car it is of no matter what else was not measured.
    lacking = judged.mandatory & ~judged.admitted[row]
    holding = refusing if refusing.any() else lacking
    reasons = [
        Reason(
            rule=judged.rules[place],
            outcome=OUTCOMES[judged.outcome[row, place]],
            margin=_known(judged.margin[row, place]),
        )
        for place in np.flatnonzero(holding).tolist()
    ]
    return tuple(sorted(reasons, key=lambda one: one.margin or 0.0))


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
