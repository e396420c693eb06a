"""
A field of cars as numbers: what was measured on each, how well, and by what.

One row a car, one column a number of the registry.  Words stand as the position
in their closed set, yes and no as 1 and 0.
"""

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from inspection.compute.quantities import column_owner
from inventory.compute.arrays import Bools, Codes, Floats, Ints
from inventory.compute.errors import ComputeError

#: What a number of a field is: a value; a slip that went or stopped; the middle
#: between two slips, anywhere between which is alike likely.
VALUE, AT_LEAST, AT_MOST, BETWEEN = 0, 1, -1, 2


class FieldShapeError(ComputeError):
    """A field's arrays are not all of its cars by its columns."""

    code: ClassVar[str] = "field_shape"


class RepeatedColumnError(ComputeError):
    """A field has one column twice."""

    code: ClassVar[str] = "repeated_column"


class NotAMeasurementError(ComputeError):
    """A value is infinite, or has no uncertainty, or one below zero."""

    code: ClassVar[str] = "not_a_measurement"


@dataclass(frozen=True, eq=False)
class Field:
    """
    What was measured on each car.

    Attributes
    ----------
    columns : tuple of str
        Names of the columns, from the registry.
    value : (cars, inputs) ndarray
        Values in their quantities' units; NaN not measured.
    random, systematic : (cars, inputs) ndarray
        Standard uncertainties: the reading's own, and that of its gauge.
    gauge : (cars, inputs) ndarray of int
        Readings off one gauge, not checked in between, share a number; below 0,
        the systematic part is the reading's own.
    bound : (cars, inputs) ndarray of int8, optional
        0 for a value; 1 where it is only known to be at least this, -1 at most: a
        slip that goes, and one that does not; 2 for the middle between two slips,
        ``random`` then being that of a flat spread from the one to the other.

    Raises
    ------
    UnknownColumnError, RepeatedColumnError, FieldShapeError, NotAMeasurementError
        If the field cannot be what it says.

    Examples
    --------
    >>> caliper = 0
    >>> tyres = Field(
    ...     columns=("tyre_diameter_rear_left", "tyre_diameter_rear_right"),
    ...     value=np.array([[20.11, 20.05]]),
    ...     random=np.array([[0.005, 0.005]]),
    ...     systematic=np.array([[0.01, 0.01]]),
    ...     gauge=np.array([[caliper, caliper]]),
    ... )
    >>> tyres.position("tyre_diameter_rear_right")
    1
    """

    columns: tuple[str, ...]
    value: Floats
    random: Floats
    systematic: Floats
    gauge: Ints
    bound: Codes | None = None

    def __post_init__(self) -> None:
        for name in self.columns:
            column_owner(name)
        if len(set(self.columns)) < len(self.columns):
            msg = "A field has each column once."
            raise RepeatedColumnError(msg)
        self._refuse_other_shapes()
        self._refuse_no_measurements()

    def _refuse_other_shapes(self) -> None:
        arrays = (self.value, self.random, self.systematic, self.gauge, self.bound)
        shapes = {array.shape for array in arrays if array is not None}
        if len(shapes) > 1 or self.value.shape[1:] != (len(self.columns),):
            msg = (
                f"Arrays of cars by {len(self.columns)} columns are expected, "
                f"all of one shape; these are {sorted(shapes)}."
            )
            raise FieldShapeError(msg)

    def _refuse_no_measurements(self) -> None:
        measured = ~np.isnan(self.value)
        sound = np.isfinite(self.value)
        for part in (self.random, self.systematic):
            sound &= np.isfinite(part) & (part >= 0)
        if (measured & ~sound).any():
            car, column = (int(index[0]) for index in np.nonzero(measured & ~sound))
            msg = (
                f"Car {car}, “{self.columns[column]}”: a finite value with its "
                "uncertainties, zero or more, is expected."
            )
            raise NotAMeasurementError(msg)

    @classmethod
    def exact(cls, values: Mapping[str, Sequence[float]]) -> Self:
        """
        Make a field of values without any doubt, to try a formula with.

        Parameters
        ----------
        values : mapping of str to sequence of float
            By column of the registry, one a car, in its unit; NaN not measured.

        Returns
        -------
        Field
            A row a car; no value shares its gauge with another.

        Raises
        ------
        UnknownColumnError, FieldShapeError, NotAMeasurementError
            If the field cannot be what it says.

        Examples
        --------
        >>> Field.exact({"weight_car": [181.2, 179.9]}).car_count
        2
        """
        columns = [np.asarray(of_cars, dtype=np.float64) for of_cars in values.values()]
        if len({len(of_cars) for of_cars in columns}) != 1:
            msg = "Each column has one value a car, and there is at least one column."
            raise FieldShapeError(msg)
        value = np.stack(columns, axis=1)
        return cls(
            columns=tuple(values),
            value=value,
            random=np.zeros_like(value),
            systematic=np.zeros_like(value),
            gauge=np.full(value.shape, -1, dtype=np.int64),
        )

    @property
    def car_count(self) -> int:
        """How many cars there are."""
        return len(self.value)

    def position(self, column: str) -> int | None:
        """
        Where a column stands in the arrays.

        Parameters
        ----------
        column : str
            The column.

        Returns
        -------
        int or None
            ``None`` where the field has no such column.
        """
        if column not in self.columns:
            return None
        return self.columns.index(column)

    def take(self, cars: NDArray[np.intp] | slice) -> Self:
        """
        Pick some of the cars.

        Parameters
        ----------
        cars : slice or ndarray of int
            Which rows.

        Returns
        -------
        Field
            Those cars, in that order.
        """
        # What is taken of a sound field is sound, and not looked over again.
        taken = copy(self)
        for name in ("value", "random", "systematic", "gauge", "bound"):
            array = getattr(self, name)
            if array is not None:
                object.__setattr__(taken, name, array[cars])
        return taken


def is_value(bound: Codes) -> Bools:
    """
    Tell which numbers of a field are values to compute with.

    Parameters
    ----------
    bound : ndarray of int8
        As `Field` has it.

    Returns
    -------
    ndarray of bool
        Also of what lies between two slips; not of what is only known to be at least
        or at most so much.

    Examples
    --------
    >>> is_value(np.array([VALUE, AT_LEAST, AT_MOST, BETWEEN], dtype=np.int8))
    array([ True, False, False,  True])
    """
    values: Bools = (bound == VALUE) | (bound == BETWEEN)
    return values
