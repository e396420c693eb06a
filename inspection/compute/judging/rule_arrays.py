"""
A rulebook as arrays, and what it finds of a field of cars.

Arrays with the cars first, the rules second; values, limits and uncertainties in
each rule's own unit.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging.outcomes import DecisionRule
from inventory.compute.arrays import Bools, Codes, Floats, Ints
from inventory.compute.errors import ComputeError


class RulesShapeError(ComputeError):
    """A rulebook's arrays are not all of its rules, or not of the field's cars."""

    code: ClassVar[str] = "rules_shape"


@dataclass(frozen=True, kw_only=True, eq=False)
class Rules:
    """
    A rulebook as arrays, for one field of cars.

    Attributes
    ----------
    lower, upper : (rules,) ndarray
        Limits in the quantity's unit, themselves allowed; NaN for none.
    column : (rules,) ndarray of int
        Position in the field's columns; of a sided quantity, its left one.
    mandatory : (rules,) ndarray of bool
        Whether breaking it sends a car back.
    taken_only : (rules,) ndarray of bool
        Whether a derived value is no evidence.
    applies : (cars, rules) ndarray of bool
        Whether the rule is about that car.
    decision_rule : DecisionRule
        Who has the benefit of the doubt.
    confidence : float
        Of the guard band; from 0.5 to below 1.

    Raises
    ------
    RulesShapeError
        If the arrays are not all of the same rules.
    """

    lower: Floats
    upper: Floats
    column: Ints
    mandatory: Bools
    taken_only: Bools
    applies: Bools
    decision_rule: DecisionRule
    confidence: float = 0.95

    def __post_init__(self) -> None:
        rules = (self.lower, self.upper, self.column, self.mandatory, self.taken_only)
        shapes = {one.shape for one in rules} | {self.applies.shape[1:]}
        if len(shapes) > 1 or self.applies.ndim != 2:
            msg = (
                "A rulebook's arrays have one number a rule, and “applies” a row a car."
            )
            raise RulesShapeError(msg)

    @classmethod
    def within(
        cls,
        limits: Mapping[str, tuple[float, float]],
        *,
        columns: Sequence[str],
        car_count: int = 1,
    ) -> Self:
        """
        Make rules of limits alone, to try a formula with.

        Parameters
        ----------
        limits : mapping of str to tuple of (float, float)
            Lower and upper by column of the field, in its unit; NaN for none.
        columns : sequence of str
            Those of the field.
        car_count : int
            Of the field.

        Returns
        -------
        Rules
            In the order of the limits; mandatory, about every car, for taken and
            derived values alike, and under simple acceptance.

        Raises
        ------
        ValueError
            If a limit is on a column that the field does not have.

        Examples
        --------
        >>> Rules.within({"weight_car": (180.0, np.nan)}, columns=["weight_car"]).count
        1
        """
        count = len(limits)
        return cls(
            lower=np.array([low for low, _ in limits.values()], dtype=np.float64),
            upper=np.array([high for _, high in limits.values()], dtype=np.float64),
            column=np.array([columns.index(one) for one in limits], dtype=np.int64),
            mandatory=np.ones(count, dtype=np.bool_),
            taken_only=np.zeros(count, dtype=np.bool_),
            applies=np.ones((car_count, count), dtype=np.bool_),
            decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
        )

    @property
    def count(self) -> int:
        """How many rules there are."""
        return len(self.lower)

    def only(self, rules: NDArray[np.intp]) -> "Rules":
        """
        Pick some rules.

        Parameters
        ----------
        rules : (n,) ndarray of int
            Their places, in this order.

        Returns
        -------
        Rules
            Those, for the same cars.
        """
        return replace(
            self,
            lower=self.lower[rules],
            upper=self.upper[rules],
            column=self.column[rules],
            mandatory=self.mandatory[rules],
            taken_only=self.taken_only[rules],
            applies=self.applies[:, rules],
        )

    def take(self, cars: NDArray[np.intp] | slice) -> Self:
        """
        Pick some of the cars.

        Parameters
        ----------
        cars : slice or ndarray of int
            Which rows of ``applies``.

        Returns
        -------
        Rules
            All the rules, for those cars.
        """
        kept = {one.name: getattr(self, one.name) for one in fields(self)}
        return type(self)(**{**kept, "applies": self.applies[cars]})


@dataclass(frozen=True, kw_only=True, eq=False)
class Findings:
    """
    What each rule finds of each car; ``(cars, rules)`` throughout.

    Attributes
    ----------
    outcome : ndarray of int8
        Codes of `Outcome`.
    admitted : ndarray of bool
        Whether the rule lets the car pass; a rule that is not about it does.
    value, u : ndarray
        What was judged and its standard uncertainty; NaN not measured.
    margin : ndarray
        Distance to the nearest limit, positive inside.
    guard_band : ndarray
        Width of doubt on either side of a limit.
    probability : ndarray
        That the true value is inside; NaN where only a bound is known.
    critical : ndarray
        The guard band over u where that is not the normal quantile of the
        confidence; else NaN.
    places : ndarray of int8
        How many near places of a least or a most were judged together; 0 for one.
    half_width : ndarray
        Half of what two slips are apart, where the value lies between them.
    bound : ndarray of int8
        As in a `Field`; 0 where nothing was judged.
    taken : ndarray of bool
        Whether the value was read and not derived.
    point : ndarray of int8
        Code of the `Point` that decided; -1 where nothing did.
    derived, derived_u : ndarray
        What would be derived of a quantity that can be taken or derived, the least
        over the car; NaN else.
    disagrees : ndarray of bool
        Whether taken and derived differ by more than two standard uncertainties.
    """

    outcome: Codes
    admitted: Bools
    value: Floats
    u: Floats
    margin: Floats
    guard_band: Floats
    probability: Floats
    critical: Floats
    places: Codes
    half_width: Floats
    bound: Codes
    taken: Bools
    point: Codes
    derived: Floats
    derived_u: Floats
    disagrees: Bools
