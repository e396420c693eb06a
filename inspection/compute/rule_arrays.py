"""
A rulebook as arrays, and what it finds of a field of cars.

Arrays with the cars first, the rules second; values, limits and uncertainties in
each rule's own unit.
"""

from dataclasses import dataclass, fields
from typing import ClassVar, Self, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.conformity import DecisionRule
from inventory.compute.errors import ComputeError

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]
IntArray: TypeAlias = NDArray[np.int64]
CodeArray: TypeAlias = NDArray[np.int8]


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

    lower: FloatArray
    upper: FloatArray
    column: IntArray
    mandatory: BoolArray
    taken_only: BoolArray
    applies: BoolArray
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

    @property
    def count(self) -> int:
        """How many rules there are."""
        return len(self.lower)

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

    outcome: CodeArray
    admitted: BoolArray
    value: FloatArray
    u: FloatArray
    margin: FloatArray
    guard_band: FloatArray
    probability: FloatArray
    taken: BoolArray
    point: CodeArray
    derived: FloatArray
    derived_u: FloatArray
    disagrees: BoolArray
