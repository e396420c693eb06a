"""Rules of a rulebook as checks of a fit: a column a rule, at its limits."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

import numpy as np

from inspection.compute.fit.checks import (
    Check,
    CheckColumn,
)
from inspection.compute.fit.envelopes import rule_key
from inspection.compute.judging import Rules, evaluate, margins
from inspection.compute.quantities import QUANTITIES
from inspection.compute.stance import Field
from inspection.compute.what_if import about, rests_on
from inventory.compute.arrays import Floats

#: Further from a limit than this many repeatabilities nothing is close.
_NEAR: Final = 10.0
_NEAR_DERIVED: Final = 0.3


def rule_columns(
    rulebook: Rules, car: Field, changed: Field, columns: Iterable[str]
) -> tuple[CheckColumn, ...]:
    """
    Check a car's variants against the mandatory rules that a change moves.

    Parameters
    ----------
    rulebook : Rules
        The rules, for the car, or for each of the cars.
    car : Field
        The car as it is, one row; or many, each of which is changed once.
    changed : Field
        A row a variant.
    columns : iterable of str
        What was changed; rules that do not rest on any of it are left out.

    Returns
    -------
    tuple of CheckColumn
        One a rule, in the rulebook's order.
    """
    # Twist on a car that its guide carries is no rule's business.
    asked = about(rulebook, car) & rests_on(rulebook, car, columns)
    for_each = (
        np.zeros(changed.car_count, dtype=np.intp)
        if car.car_count == 1
        else slice(None)
    )
    for_all = rulebook.take(for_each)
    values = rule_values(for_all, changed)
    u_values = _near_u(for_all, changed)
    checks = []
    for rule in np.flatnonzero(asked.any(axis=0)).tolist():
        quantity = QUANTITIES[rule_key(rulebook, car, rule)]
        checks.append(
            CheckColumn(
                check=Check.RULE,
                value=values[:, rule],
                lower=rulebook.lower[rule : rule + 1],
                upper=rulebook.upper[rule : rule + 1],
                applies=asked[:, rule],
                checked=np.ones(1, dtype=np.bool_),
                unit="" if quantity.unit == "1" else quantity.unit,
                rule=rule,
                quantity=quantity.key,
                u=u_values[:, rule],
            )
        )
    return tuple(checks)


def _near_u(rulebook: Rules, field: Field) -> Floats:
    """Take the uncertainty of what is near to a limit; elsewhere none is needed."""
    u = np.zeros((field.car_count, rulebook.count))
    margin = margins(rulebook, field)
    keys = [rule_key(rulebook, field, rule) for rule in range(rulebook.count)]
    # As well as one person repeats, a few times over; with gauges no worse than that.
    near = np.array([_NEAR * QUANTITIES[key].repeatability for key in keys])
    # What is derived from many readings is known less well: a tenth of its unit.
    near = np.where(near > 0.0, near, _NEAR_DERIVED)
    rows = np.flatnonzero((abs(margin) < np.maximum(near, _NEAR_DERIVED)).any(axis=1))
    if len(rows):
        findings = evaluate(rulebook.take(rows), field.take(rows))
        u[rows] = np.nan_to_num(findings.u)
    return u


def rule_values(rulebook: Rules, field: Field) -> Floats:
    """
    Take the values that rules judge, without any uncertainty.

    Of a quantity with several places it is that at the place nearest to a limit.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    field : Field
        The cars.

    Returns
    -------
    (cars, rules) ndarray
        NaN not measured or not applicable.
    """
    nearest = margins(rulebook, field)
    two_sided = ~np.isnan(rulebook.lower) & ~np.isnan(rulebook.upper)
    above = nearest
    if two_sided.any():
        only_lower = np.where(two_sided, np.nan, rulebook.upper)
        above = margins(replace(rulebook, upper=only_lower), field)
    at_lower = ~np.isnan(rulebook.lower) & (above <= nearest)
    return np.where(at_lower, rulebook.lower + nearest, rulebook.upper - nearest)
