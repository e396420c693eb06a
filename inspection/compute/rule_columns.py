"""Rules of a rulebook as checks of a fit: a column a rule, at its limits."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from inspection.compute.envelope import rule_key
from inspection.compute.fields import Field
from inspection.compute.fit_rows import Check, CheckColumn, Floats
from inspection.compute.legality import present, rests_on
from inspection.compute.quantities import QUANTITIES
from inspection.compute.rules import Rules, margins


def rule_columns(
    rulebook: Rules, car: Field, changed: Field, columns: Iterable[str]
) -> tuple[CheckColumn, ...]:
    """
    Check one car's variants against the mandatory rules that a change moves.

    Parameters
    ----------
    rulebook : Rules
        The rules, for the car.
    car : Field
        One row, the car as it is.
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
    asked = present(rulebook, car).about & rests_on(rulebook, car, columns)
    values = rule_values(rulebook.take(np.zeros(changed.cars, dtype=np.intp)), changed)
    found = []
    for rule in np.flatnonzero(asked).tolist():
        quantity = QUANTITIES[rule_key(rulebook, car, rule)]
        found.append(
            CheckColumn(
                check=Check.RULE,
                value=values[:, rule],
                lower=rulebook.lower[rule : rule + 1],
                upper=rulebook.upper[rule : rule + 1],
                applies=np.ones(1, dtype=np.bool_),
                checked=np.ones(1, dtype=np.bool_),
                unit="" if quantity.unit == "1" else quantity.unit,
                measure=quantity.label.lower(),
                subject=quantity.label,
                rule=rule,
            )
        )
    return tuple(found)


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
