"""
A field of cars as numbers: what was measured on each, how well, and by what.

One row a car, one column a number of the registry.  Words stand as the position
in their closed set, yes and no as 1 and 0.
"""

from dataclasses import dataclass
from typing import ClassVar, Self, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.quantities import column_owner
from inventory.compute.errors import ComputeError

FloatArray: TypeAlias = NDArray[np.float64]
IntArray: TypeAlias = NDArray[np.int64]
CodeArray: TypeAlias = NDArray[np.int8]


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
    quantities : tuple of str
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
        slip that goes, and one that does not.

    Raises
    ------
    UnknownColumnError, RepeatedColumnError, FieldShapeError, NotAMeasurementError
        If the field cannot be what it says.
    """

    quantities: tuple[str, ...]
    value: FloatArray
    random: FloatArray
    systematic: FloatArray
    gauge: IntArray
    bound: CodeArray | None = None

    def __post_init__(self) -> None:
        for name in self.quantities:
            column_owner(name)
        if len(set(self.quantities)) < len(self.quantities):
            msg = "A field has each column once."
            raise RepeatedColumnError(msg)
        self._refuse_other_shapes()
        self._refuse_no_measurements()

    def _refuse_other_shapes(self) -> None:
        arrays = (self.value, self.random, self.systematic, self.gauge, self.bound)
        shapes = {array.shape for array in arrays if array is not None}
        if len(shapes) > 1 or self.value.shape[1:] != (len(self.quantities),):
            msg = (
                f"Arrays of cars by {len(self.quantities)} columns are expected, "
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
                f"Car {car}, “{self.quantities[column]}”: a finite value with its "
                "uncertainties, zero or more, is expected."
            )
            raise NotAMeasurementError(msg)

    @property
    def cars(self) -> int:
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
        if column not in self.quantities:
            return None
        return self.quantities.index(column)

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
        return type(self)(
            quantities=self.quantities,
            value=self.value[cars],
            random=self.random[cars],
            systematic=self.systematic[cars],
            gauge=self.gauge[cars],
            bound=None if self.bound is None else self.bound[cars],
        )
