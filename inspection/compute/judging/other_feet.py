"""
A pass under guarded acceptance, held on the other three feet as well.

Of four wheels nearly in one plane, errors of reading decide which one hangs, and they
choose the three that lift the car most: in front of the rear axle such a car reads
high.  On the three that truly carry it a clearance is read without that, so a pass is
one only where it is a pass on either support that the readings leave possible: an
intersection-union test again (Berger, Technometrics 24, 1982), of one support more.
"""

from dataclasses import fields, replace
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging.candidates import Candidate, Candidates
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.compute.judging.rule_arrays import Findings, Rules
from inspection.compute.quantities import QUANTITIES, column_owner
from inspection.compute.stance import Field
from inventory.compute.arrays import Bools, Floats

#: So near to a plane, in u of the twist, nobody knows at 95 % which wheel hangs.
NEAR_TIE_U: Final = 1.645
# On either support a place is known about as well as on the other.
_ALIKE: Final = 1.2
# So many cars at once that their numbers stay near the processor.
_AT_ONCE: Final = 2048


class Find(Protocol):
    """Judges cars."""

    def __call__(
        self, rules: Rules, field: Field, *, on_others: bool = False
    ) -> Findings:
        """Judge them, on the other three feet if told so."""


class Bare(Protocol):
    """Takes the margins of cars without any uncertainty."""

    def __call__(
        self, rules: Rules, field: Field, *, on_others: bool = False
    ) -> Floats:
        """Take them, on the other three feet if told so."""


def with_other_feet(
    findings: Findings, rules: Rules, field: Field, *, find: Find, bare: Bare
) -> Findings:
    """
    Let a pass stand only where the other support gives one too.

    Parameters
    ----------
    findings : Findings
        On the support that the readings give.
    rules : Rules
        The rules, for these cars.
    field : Field
        The cars.
    find : callable
        Judges cars, on the other support if told so.
    bare : callable
        Takes their margins alone.

    Returns
    -------
    Findings
        Where the other support's outcome is worse, its finding.  Other decision rules
        than guarded acceptance: as found.
    """
    if rules.decision_rule is not DecisionRule.GUARDED_ACCEPTANCE:
        return findings
    keys = [column_owner(field.columns[column])[0] for column in rules.column]
    above = [QUANTITIES[key].is_above_ground for key in keys]
    stands = np.array(above, dtype=np.bool_)
    asked = (findings.outcome == Outcome.PASS.code) & ~findings.taken & stands
    if not asked.any():
        return findings
    cars = np.flatnonzero(asked.any(axis=1))
    cars = cars[_is_near_tie(field, cars)]
    if not cars.size:
        return findings
    # Without uncertainties, which is quick, for what may be no pass any more.
    which = np.flatnonzero(asked[cars].any(axis=0))
    at = np.ix_(cars, which)
    margin = bare(rules.only(which).take(cars), field.take(cars), on_others=True)
    with np.errstate(invalid="ignore"):
        less = margin < np.minimum(
            _ALIKE * findings.guard_band[at], findings.margin[at]
        )
    asked[at] &= less
    cars = cars[less.any(axis=1)]
    if not cars.size:
        return findings
    which = np.flatnonzero(asked[cars].any(axis=0))
    other = find(rules.only(which).take(cars), field.take(cars), on_others=True)
    return _worse(findings, other, cars, which, asked)


def on_other_feet(field: Field, keys: list[str]) -> dict[str, tuple[Candidate, ...]]:
    """
    Give what quantities are on the other three feet, where a car is near to a tie.

    Parameters
    ----------
    field : Field
        The cars, two at least.
    keys : list of str
        The quantities.

    Returns
    -------
    dict
        By the key, of those that hang on how the car stands and were not taken;
        present on cars near to a tie alone.
    """
    standing = [key for key in keys if QUANTITIES[key].is_above_ground]
    if not standing:
        return {}
    near = _is_near_tie(field, np.arange(field.car_count))
    if not near.any():
        return {}
    candidates = Candidates(field, standing, traced=True, on_others=True)
    return {
        key: tuple(
            replace(one, present=one.present & near)
            for one in candidates.to_judge(key, taken_only=False)
            if not one.taken
        )
        for key in standing
    }


def _is_near_tie(field: Field, cars: NDArray[np.intp]) -> Bools:
    near = [
        _near_tie(field, cars[start : start + _AT_ONCE])
        for start in range(0, len(cars), _AT_ONCE)
    ]
    return np.concatenate(near)


def _near_tie(field: Field, cars: NDArray[np.intp]) -> Bools:
    some = np.repeat(cars, 2) if len(cars) == 1 else cars
    (twist,) = Candidates(field.take(some), ("twist",), traced=True).derived("twist")
    with np.errstate(invalid="ignore"):
        near = np.abs(twist.value) < NEAR_TIE_U * twist.u
    return np.asarray(near & twist.present)[: len(cars)]


def _worse(
    findings: Findings,
    other: Findings,
    cars: NDArray[np.intp],
    which: NDArray[np.intp],
    asked: Bools,
) -> Findings:
    at = np.ix_(cars, which)
    worse = (other.outcome > findings.outcome[at]) & asked[at]
    worse &= other.outcome < Outcome.NOT_MEASURED.code
    merged = {}
    for one in fields(Findings):
        table = getattr(findings, one.name).copy()
        table[at] = np.where(worse, getattr(other, one.name), table[at])
        merged[one.name] = table
    return Findings(**merged)
