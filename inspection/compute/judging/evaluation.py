"""
What a rulebook finds of a field of cars.

The same car gives the same findings, to the digit, alone or among ten thousand.
"""

from collections.abc import Iterator
from dataclasses import fields

import numpy as np

from inspection.compute.judging.judged_pairs import bare_margins, find
from inspection.compute.judging.missing import missing_inputs
from inspection.compute.judging.other_feet import with_other_feet
from inspection.compute.judging.rule_arrays import Findings, Rules, RulesShapeError
from inspection.compute.stance import (
    Derivation,
    Field,
    FieldShapeError,
    Ground,
    NotAMeasurementError,
    Point,
    RepeatedColumnError,
    Standing,
)
from inventory.compute.arrays import Bools, Floats

__all__ = [
    "JUDGING",
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
    "ground_under",
    "margins",
    "missing_inputs",
]


#: The number of the judging.  It goes up by one whenever the same values under the
#: same rules may give another finding than before; a seal says under which number
#: it was put, and is judged again only while that is today's.
JUDGING = 6

# So many cars at once that their numbers stay near the processor.
_CARS_AT_ONCE = 2048


def evaluate(
    rulebook: Rules, field: Field, *, ground: Ground | None = None
) -> Findings:
    """
    Judge a field of cars by a rulebook.

    A quantity that is the least over several places is judged at each, and at those
    near the limit together; the worst outcome counts, and of equal ones that with the
    least margin less guard band.
    What was taken counts before what is derived.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    field : Field
        The cars.
    ground : Ground, optional
        What the one car of a field stands on, where `ground_under` gave it before;
        the findings are the same with it and without.

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
    >>> from inspection.compute.judging.conformity import DecisionRule, Outcome
    >>> cars = Field(
    ...     columns=("weight_car",),
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
    findings = _judged(rulebook, field, ground=ground)
    return with_other_feet(findings, rulebook, field, find=_judged, bare=_margins)


def ground_under(field: Field) -> Ground:
    """
    Work out what a car stands on, to judge it by several times.

    Parameters
    ----------
    field : Field
        One car.

    Returns
    -------
    Ground
        Of two cars that are both this one, as `evaluate` judges a car alone.

    Examples
    --------
    A car of which nothing was read stands on nothing that is known.

    >>> nothing = Field.exact({"weight_car": [98.2]})
    >>> [bool(np.isnan(one.value).all()) for one in ground_under(nothing).plane]
    [True, True, True]
    """
    twice = field.take(np.array([0, 0]))
    return Standing(Derivation(twice, traced=True)).ground


def _judged(
    rules: Rules,
    field: Field,
    *,
    on_others: bool = False,
    ground: Ground | None = None,
) -> Findings:
    parts = [
        find(some, cars, on_others=on_others, ground=ground)
        for some, cars in _handfuls(rules, field)
    ]
    joined = {
        one.name: np.concatenate([getattr(part, one.name) for part in parts])
        for one in fields(Findings)
    }
    return Findings(
        **{name: array[: field.car_count] for name, array in joined.items()}
    )


def margins(rulebook: Rules, field: Field) -> Floats:
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

    Examples
    --------
    >>> cars = Field.exact({"weight_car": [181.0, 179.0, np.nan]})
    >>> at_least_180 = Rules.within(
    ...     {"weight_car": (180.0, np.nan)}, columns=cars.columns, car_count=3
    ... )
    >>> margins(at_least_180, cars).ravel()
    array([ 1., -1., nan])
    """
    return _margins(rulebook, field)


def _margins(rules: Rules, field: Field, *, on_others: bool = False) -> Floats:
    parts = [
        bare_margins(some, cars, on_others=on_others)
        for some, cars in _handfuls(rules, field)
    ]
    return np.concatenate(parts)[: field.car_count]


def admitted_cars(rulebook: Rules, findings: Findings) -> Bools:
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
    admitted: Bools = np.all(findings.admitted | ~rulebook.mandatory, axis=1)
    return admitted


def _handfuls(rulebook: Rules, field: Field) -> Iterator[tuple[Rules, Field]]:
    if len(rulebook.applies) != field.car_count:
        msg = (
            f"The rulebook is for {len(rulebook.applies)} cars, not {field.car_count}."
        )
        raise RulesShapeError(msg)
    column = rulebook.column
    if not ((column >= 0) & (column < len(field.columns))).all():
        msg = f"A rule's column is one of the field's {len(field.columns)}."
        raise RulesShapeError(msg)
    rows = np.arange(field.car_count)
    for start in range(0, max(field.car_count, 1), _CARS_AT_ONCE):
        some = rows[start : start + _CARS_AT_ONCE]
        # A sum down a table of one car is taken in another order than beside a
        # second one, and would differ in the last digit.
        some = np.repeat(some, 2) if len(some) == 1 else some
        yield rulebook.take(some), field.take(some)
