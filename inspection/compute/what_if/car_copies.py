"""
Readings of cars, copied row by row so that each row can be changed.

One car many times over, or many cars once each.  Values in the units of their
quantities, a row a change.  A column that the car does not have and a change needs
is added after its own, so that the rules' places stay true.
"""

import numpy as np
from numpy.typing import NDArray

from inspection.compute.stance import (
    Field,
)
from inventory.compute.arrays import Bools, Codes, Floats, Ints


class Draft:
    """
    Copies of one car, or one of each of many.

    Parameters
    ----------
    car : Field
        One row, or as many as there are copies.
    rows : int
        How many copies.
    more : tuple of str
        Columns that changes will set, whether or not the car has them.
    """

    def __init__(self, car: Field, rows: int, more: tuple[str, ...] = ()) -> None:
        added = tuple(name for name in more if name not in car.columns)
        self.names = car.columns + added
        self.rows = rows
        self._at = {name: place for place, name in enumerate(self.names)}
        bound = np.zeros_like(car.value) if car.bound is None else car.bound
        self._value = self._copies(car.value, np.nan)
        self._random = self._copies(car.random, 0.0)
        self._systematic = self._copies(car.systematic, 0.0)
        self._gauge = self._copies(car.gauge, -1.0).astype(np.int64)
        self._bound = self._copies(bound, 0.0).astype(np.int8)

    def _copies(self, of_cars: NDArray[np.generic], blank: float) -> Floats:
        # A column is one run of memory here; one car is every row's.
        copies = np.full((len(self.names), self.rows), blank)
        copies[: of_cars.shape[1]] = of_cars.T
        return copies

    def has(self, name: str) -> bool:
        """
        Tell whether a column has a value in any row.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        bool
            False also where there is no such column.
        """
        at = self._at.get(name)
        return at is not None and not bool(np.isnan(self._value[at]).all())

    def value(self, name: str) -> Floats:
        """
        Take a column as it stands.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        (rows,) ndarray
            NaN where not known.
        """
        at = self._at.get(name)
        return np.full(self.rows, np.nan) if at is None else self._value[at].copy()

    def bound(self, name: str) -> Codes:
        """
        Tell where a column is only known to be at least, or at most, so much.

        Parameters
        ----------
        name : str
            A column that the draft has.

        Returns
        -------
        (rows,) ndarray of int8
            1 for at least, -1 for at most, 0 for a value.
        """
        bound: Codes = self._bound[self._at[name]].copy()
        return bound

    def put(
        self,
        name: str,
        value: Floats,
        where: Bools,
        *,
        uncertainty: tuple[Floats, Floats, Ints] | None = None,
    ) -> None:
        """
        Set a column in some rows; nothing where there is no such column.

        Parameters
        ----------
        name : str
            The column.
        value : (rows,) ndarray
            What it will be.
        where : (rows,) ndarray of bool
            In which rows.
        uncertainty : tuple of ndarray, optional
            Random and systematic part and gauge; without it they stay.
        """
        at = self._at.get(name)
        if at is None:
            return
        np.copyto(self._value[at], value, where=where)
        self._bound[at][where] = 0
        if uncertainty is not None:
            random, systematic, gauge = uncertainty
            np.copyto(self._random[at], random, where=where)
            np.copyto(self._systematic[at], systematic, where=where)
            np.copyto(self._gauge[at], gauge, where=where)

    def forget(self, names: tuple[str, ...], where: Bools) -> None:
        """
        Make columns not known in some rows.

        Parameters
        ----------
        names : tuple of str
            Columns, whether or not the draft has them.
        where : (rows,) ndarray of bool
            In which rows.
        """
        for name in names:
            self.put(name, np.full(self.rows, np.nan), where)

    def field(self) -> Field:
        """
        Read the copies off.

        Returns
        -------
        Field
            A row a change.
        """
        return Field(
            columns=self.names,
            value=self._value.T,
            random=self._random.T,
            systematic=self._systematic.T,
            gauge=self._gauge.T,
            bound=self._bound.T,
        )
