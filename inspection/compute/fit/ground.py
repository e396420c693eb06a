"""
A gear over the track: what any outside diameter leaves below it.

The clearance falls by the same amount with each millimetre of diameter, so two
evaluations of how the car stands give it for all gears.  One row a car.
"""

from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging import DecisionRule, Rules, evaluate, missing_inputs
from inspection.compute.quantities import column_owner
from inspection.compute.stance import Field, is_value
from inspection.compute.what_if import (
    derived_least,
)
from inventory.compute.arrays import Floats

_KEY: Final = "clearance_gear"
_DIAMETER: Final = "gear_diameter"
#: Two diameters, far enough apart for the slope.
_SMALL_MM: Final = 10.0
_LARGE_MM: Final = 20.0


NumberT = TypeVar("NumberT", bound=np.number)


@dataclass(frozen=True, kw_only=True, eq=False)
class GearGround:
    """Clearance below a gear: ``at_10_mm + per_mm * (diameter - 10)``; (cars,)."""

    at_10_mm: Floats
    per_mm: Floats

    @property
    def known(self) -> bool:
        """Whether every car has one."""
        return not bool(np.isnan(self.at_10_mm).any())

    def take(self, cars: NDArray[np.int64]) -> "GearGround":
        """
        Pick some of the cars.

        Parameters
        ----------
        cars : (rows,) ndarray of int
            Which, in this order.

        Returns
        -------
        GearGround
            Those.
        """
        return GearGround(at_10_mm=self.at_10_mm[cars], per_mm=self.per_mm[cars])

    def clearance_mm(self, outside_diameter_mm: Floats) -> Floats:
        """
        Say what gears leave below them.

        Parameters
        ----------
        outside_diameter_mm : (rows,) ndarray
            True outside diameters.

        Returns
        -------
        (rows,) ndarray
            Clearances; NaN where the car's own sizes are not known.
        """
        return self.at_10_mm + self.per_mm * (outside_diameter_mm - _SMALL_MM)

    def diameter_mm(self, clearance_mm: Floats) -> Floats:
        """
        Say which gear leaves so much below it.

        Parameters
        ----------
        clearance_mm : (rows,) ndarray
            Clearances.

        Returns
        -------
        (rows,) ndarray
            Outside diameters.
        """
        return _SMALL_MM + (clearance_mm - self.at_10_mm) / self.per_mm


def gear_ground(car: Field) -> GearGround:
    """
    Work out what gears of any size leave below them.

    A clearance that was taken under the present gear shifts the derived one; where
    nothing can be derived it counts as on a level car.

    Parameters
    ----------
    car : Field
        The cars.

    Returns
    -------
    GearGround
        A row a car.

    Examples
    --------
    >>> car = Field.exact({"clearance_gear": [1.0], "gear_diameter": [16.0]})
    >>> ground = gear_ground(car)
    >>> ground.per_mm, ground.clearance_mm(np.array([17.0]))
    (array([-0.5]), array([0.5]))
    """
    small, large = (
        derived_least(_with_column(car, _DIAMETER, size), (_KEY,))[_KEY]
        for size in (_SMALL_MM, _LARGE_MM)
    )
    taken, diameter = read_off(car, _KEY), read_off(car, _DIAMETER)
    per_mm = (large - small) / (_LARGE_MM - _SMALL_MM)
    derived_now = small + per_mm * (diameter - _SMALL_MM)
    off = taken - derived_now
    level = taken - (_SMALL_MM - diameter) / 2.0
    unknown = np.isnan(small)
    return GearGround(
        at_10_mm=np.where(unknown, level, small + np.where(np.isnan(off), 0.0, off)),
        per_mm=np.where(unknown, -0.5, per_mm),
    )


def missing_for_gear(car: Field) -> tuple[str, ...]:
    """
    Name what is to be measured before the clearance of a gear can be derived.

    Parameters
    ----------
    car : Field
        One row or more.

    Returns
    -------
    tuple of str
        Quantities that some car lacks, but for the gear itself.
    """
    field = _with_column(_with_column(car, _DIAMETER, _SMALL_MM), _KEY, np.nan)
    rules = Rules(
        lower=np.zeros(1),
        upper=np.full(1, np.nan),
        column=np.array([field.columns.index(_KEY)]),
        mandatory=np.ones(1, dtype=np.bool_),
        taken_only=np.zeros(1, dtype=np.bool_),
        applies=np.ones((car.car_count, 1), dtype=np.bool_),
        decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
    )
    findings = evaluate(rules, field)
    lacking = {
        column_owner(column)[0]: None
        for row in range(car.car_count)
        for column in missing_inputs(rules, field, findings, car=row)[0]
    }
    return tuple(lacking)


def read_off(car: Field, column: str) -> Floats:
    """
    Take a column as it was read.

    Parameters
    ----------
    car : Field
        The cars.
    column : str
        Of the registry.

    Returns
    -------
    (cars,) ndarray
        NaN where it was not read, or is only known to be at least so much.
    """
    at = car.position(column)
    if at is None:
        return np.full(car.car_count, np.nan)
    if car.bound is None:
        return car.value[:, at].copy()
    return np.where(is_value(car.bound[:, at]), car.value[:, at], np.nan)


def _with_column(car: Field, column: str, value: float) -> Field:
    kept = [at for at, name in enumerate(car.columns) if name != column]

    def widened(array: NDArray[NumberT], last: float) -> NDArray[NumberT]:
        more = np.full((car.car_count, 1), last, dtype=array.dtype)
        return np.hstack((array[:, kept], more))

    return Field(
        columns=(*(car.columns[at] for at in kept), column),
        value=widened(car.value, value),
        random=widened(car.random, 0.0),
        systematic=widened(car.systematic, 0.0),
        gauge=widened(car.gauge, -1),
        bound=None if car.bound is None else widened(car.bound, 0),
    )
