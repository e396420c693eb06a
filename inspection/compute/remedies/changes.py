"""
Remedies: which parts of the stock would make a car legal.

Every single change and every two are tried, as arrays.  A remedy keeps every
mandatory rule at its limit itself, is admitted by the rulebook's own decision
rule, and fits.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from inspection.compute.fit import Envelope
from inspection.compute.judging import Outcome, Rules, evaluate
from inspection.compute.remedies.advice import Work, WorkRemedy, work_remedies
from inspection.compute.remedies.fitting_parts import RemedyFits
from inspection.compute.remedies.sieve import Problem, Sieve
from inspection.compute.remedies.wishes import Wish, what_would_help
from inspection.compute.stance import Derivation, Field
from inspection.compute.what_if import (
    Changes,
    Masses,
    Stock,
    present,
    rear_tyres,
)
from inventory.compute.arrays import Floats, Ints

__all__ = (
    "MOST_REMEDIES",
    "Remedy",
    "Wish",
    "Work",
    "WorkRemedy",
    "remedies",
    "what_would_help",
    "work_remedies",
)


#: So many are more than anyone looks at.
MOST_REMEDIES: Final = 50
_DECIMALS: Final = 6
_JUDGED_AT_ONCE: Final = 128
_KEEP: Final = np.full(1, -1)
_NOTHING: Final = Changes(pair=_KEEP, gear=_KEEP, motor=_KEEP)


@dataclass(frozen=True, kw_only=True)
class Remedy:
    """
    Parts that make a car legal.

    ``pair``, ``gear`` and ``motor`` are places in the stock, None for what stays;
    ``outcome`` and ``margin`` are what the rules would find, one a rule.
    """

    pair: int | None
    gear: int | None
    motor: int | None
    change_count: int
    rollout_mm: float
    rollout_change_percent: float
    outcome: tuple[Outcome, ...]
    margin: tuple[float, ...]
    fit_checked: bool


def remedies(
    rulebook: Rules,
    car: Field,
    stock: Stock,
    *,
    envelope: Envelope | None = None,
    leave_unread: bool = False,
) -> list[Remedy]:
    """
    Find the parts that would make a car legal.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.
    stock : Stock
        What is in the drawers.
    envelope : Envelope, optional
        The car with its room; without it the rules alone are kept, and a remedy
        says that its fit was not checked.
    leave_unread : bool, optional
        Leave out of account mandatory rules that have no value on the car as it
        is.  Else they keep it from being legal.

    Returns
    -------
    list of Remedy
        Fewest changes first, then the least change of rollout; at most 50, none
        for a car that is legal as it is.

    Raises
    ------
    NotOneCarError
        If the field is not of one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.

    Examples
    --------
    >>> from inspection.compute.what_if import Pairs
    >>> car = Field.exact(
    ...     {"tyre_diameter_rear_left": [19.0], "tyre_diameter_rear_right": [19.0]}
    ... )
    >>> rules = Rules.within(
    ...     {"tyre_diameter_rear_left": (19.5, np.nan)}, columns=car.columns
    ... )
    >>> pairs = Pairs(
    ...     left_diameter_mm=np.array([19.2, 20.0]),
    ...     right_diameter_mm=np.array([19.2, 20.0]),
    ... )
    >>> [one.pair for one in remedies(rules, car, Stock(pairs=pairs))]
    [1]
    """
    rear_tyres(car)
    now = present(rulebook, car)
    asked = now.about & ~(now.unread & leave_unread)
    if now.kept[asked].all():
        return []
    problem = Problem(
        rulebook=rulebook,
        car=car,
        stock=stock,
        asked=asked,
        masses=Masses() if envelope is None else envelope.masses,
        fits=None if envelope is None else RemedyFits(stock=stock, envelope=envelope),
    )
    kept = Sieve.of(problem).changes()
    admitted: list[Remedy] = []
    for some in _ranked(problem, kept):
        admitted += _admitted(problem, some)
        if len(admitted) >= MOST_REMEDIES:
            break
    return admitted[:MOST_REMEDIES]


def _ranked(problem: Problem, changes: Changes) -> Iterator[Changes]:
    """Hand out changes a handful at a time, best first."""
    away = abs(_rollout_mm(problem, changes) - _rollout_mm(problem, _NOTHING))
    away = np.where(np.isnan(away), np.inf, np.round(away, _DECIMALS))
    order = np.lexsort((away, _count(changes)))
    for start in range(0, len(order), _JUDGED_AT_ONCE):
        yield changes.take(order[start : start + _JUDGED_AT_ONCE])


def _admitted(problem: Problem, changes: Changes) -> list[Remedy]:
    """Judge changes with their uncertainty, and describe those admitted."""
    field = problem.field(changes)
    rules = problem.rulebook.take(np.zeros(field.car_count, dtype=np.intp))
    findings = evaluate(rules, field)
    keeps = findings.admitted & ~(findings.margin < 0.0)
    rollout, count = _rollout_mm(problem, changes), _count(changes)
    percent = 100.0 * (rollout / _rollout_mm(problem, _NOTHING) - 1.0)
    words = tuple(Outcome)
    return [
        Remedy(
            pair=_place(changes.pair[row]),
            gear=_place(changes.gear[row]),
            motor=_place(changes.motor[row]),
            change_count=int(count[row]),
            rollout_mm=float(rollout[row]),
            rollout_change_percent=float(percent[row]),
            outcome=tuple(words[code] for code in findings.outcome[row]),
            margin=tuple(findings.margin[row].tolist()),
            fit_checked=problem.fits is not None,
        )
        for row in np.flatnonzero(keeps[:, problem.asked].all(axis=1)).tolist()
    ]


def _rollout_mm(problem: Problem, changes: Changes) -> Floats:
    derivation = Derivation(problem.car, traced=False)

    def now(column: str) -> float:
        return float(derivation.column(column).value[0])

    pairs, gears = problem.stock.pairs, problem.stock.gears
    mean = (pairs.left_diameter_mm + pairs.right_diameter_mm) / 2.0
    # The last of each is what stays on the car.
    tyre = np.append(mean, rear_tyres(problem.car).mean_mm)[changes.pair]
    teeth = np.append(gears.teeth, now("teeth_gear"))[changes.gear]
    return np.asarray(np.pi * tyre * now("teeth_pinion") / teeth)


def _count(changes: Changes) -> Ints:
    put = np.array([changes.pair, changes.gear, changes.motor]) >= 0
    count: Ints = put.sum(axis=0, dtype=np.int64)
    return count


def _place(index: np.int64) -> int | None:
    return int(index) if index >= 0 else None
