"""
What a rulebook finds of a field of cars.

The same car gives the same findings, to the digit, alone or among ten thousand.
"""

from collections.abc import Iterator
from dataclasses import fields
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.fields import (
    Field,
    FieldShapeError,
    NotAMeasurementError,
    RepeatedColumnError,
)
from inspection.compute.missing import missing_inputs
from inspection.compute.pairs import bare_margins, find
from inspection.compute.rule_arrays import Findings, Rules, RulesShapeError
from inspection.compute.standing import Point

__all__ = [
    "Field",
    "FieldShapeError",
    "Findings",
    "NotAMeasurementError",
    "Point",
    "RepeatedColumnError",
    "Rules",
    "RulesShapeError",
    "admitted_cars",
    "evaluate",
    "margins",
    "missing_inputs",
]

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

# So many cars at once that their numbers stay near the processor.
_CARS_AT_ONCE = 2048


def evaluate(rulebook: Rules, field: Field) -> Findings:
    """
    Judge a field of cars by a rulebook.

    A quantity that is the least over several places is judged at each; the worst
    outcome counts, and of equal ones that with the least margin less guard band.
    What was taken counts before what is derived.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    field : Field
        The cars.

    Returns
    -------
    Findings
        ``(cars, rules)`` throughout.

    Raises
    ------
    RulesShapeError
        If the rulebook is not for this field.
    NoLimitError, LimitsCrossedError, ConfidenceError
        If a rule cannot be judged by.

    Examples
    --------
    >>> from inspection.compute.conformity import DecisionRule, Outcome
    >>> cars = Field(
    ...     quantities=("weight_car",),
    ...     value=np.array([[181.2], [179.9], [np.nan]]),
    ...     random=np.full((3, 1), 0.05),
    ...     systematic=np.full((3, 1), 0.1),
    ...     gauge=np.zeros((3, 1), dtype=np.int64),
    ... )
    >>> at_least_180 = Rules(
    ...     lower=np.array([180.0]),
    ...     upper=np.array([np.nan]),
    ...     column=np.array([0]),
    ...     mandatory=np.array([True]),
    ...     taken_only=np.array([False]),
    ...     applies=np.ones((3, 1), dtype=np.bool_),
    ...     decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
    ... )
    >>> findings = evaluate(at_least_180, cars)
    >>> [tuple(Outcome)[code].value for code in findings.outcome[:, 0]]
    ['pass', 'conditional fail', 'not measured']
    """
    parts = [find(rules, cars) for rules, cars in _handfuls(rulebook, field)]
    joined = {
        one.name: np.concatenate([getattr(part, one.name) for part in parts])
        for one in fields(Findings)
    }
    return Findings(**{name: array[: field.cars] for name, array in joined.items()})


def margins(rulebook: Rules, field: Field) -> FloatArray:
    """
    Distance of each value to its nearest limit, without any uncertainty.

    The same formulas as in `evaluate` and a fraction of the time: for sorting out
    what is far from every limit.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    field : Field
        The cars.

    Returns
    -------
    (cars, rules) ndarray
        Least over the places; positive inside, NaN not measured or not applicable.

    Raises
    ------
    RulesShapeError
        If the rulebook is not for this field.
    """
    parts = [bare_margins(rules, cars) for rules, cars in _handfuls(rulebook, field)]
    return np.concatenate(parts)[: field.cars]


def admitted_cars(rulebook: Rules, findings: Findings) -> BoolArray:
    """
    Tell which cars every mandatory rule admits.

    Parameters
    ----------
    rulebook : Rules
        The rules.
    findings : Findings
        What they found.

    Returns
    -------
    (cars,) ndarray of bool
        A mandatory rule that was not measured does not admit.
    """
    admitted: BoolArray = np.all(findings.admitted | ~rulebook.mandatory, axis=1)
    return admitted


def _handfuls(rulebook: Rules, field: Field) -> Iterator[tuple[Rules, Field]]:
    if len(rulebook.applies) != field.cars:
        msg = f"The rulebook is for {len(rulebook.applies)} cars, not {field.cars}."
        raise RulesShapeError(msg)
    known = np.isin(rulebook.column, np.arange(len(field.quantities)))
    if not known.all():
        msg = f"A rule's column is one of the field's {len(field.quantities)}."
        raise RulesShapeError(msg)
    rows = np.arange(field.cars)
    for start in range(0, max(field.cars, 1), _CARS_AT_ONCE):
        some = rows[start : start + _CARS_AT_ONCE]
        # A sum down a table of one car is taken in another order than beside a
        # second one, and would differ in the last digit.
        some = np.repeat(some, 2) if len(some) == 1 else some
        yield rulebook.take(some), field.take(some)
