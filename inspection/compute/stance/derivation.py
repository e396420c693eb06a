"""
Derived columns, from the readings of a field of cars.

Millimetres and degrees; one number a car.  What was taken counts before what
would be derived; what was neither taken nor has a formula takes its default.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import sqrt
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.geometry import Traced, choose, derive
from inspection.compute.quantities import (
    QUANTITIES,
    AxleHeightTo,
    AxleHeld,
    Kind,
    WorkedOut,
    column_owner,
    columns_of,
)
from inspection.compute.stance.fields import (
    Field,
    is_value,
)
from inventory.compute.arrays import Codes, Floats, Ints

ScalarT = TypeVar("ScalarT", bound=np.generic)

_TOP = tuple(AxleHeightTo).index(AxleHeightTo.TOP)
_UNDERSIDE = tuple(AxleHeightTo).index(AxleHeightTo.UNDERSIDE)
_HANGING = tuple(AxleHeld).index(AxleHeld.HANGING)
#: The row of a field's tables for what none of its columns is.
_NEVER_READ = -1
_EXACT = frozenset({Kind.COUNTED, Kind.DECLARED, Kind.LOOKED_AT})


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """
    One column of a field with its uncertainty, the default where none was taken.

    ``(cars,)`` each.
    """

    value: Floats
    random: Floats
    systematic: Floats
    gauge: Ints
    bound: Codes

    @property
    def u(self) -> Floats:
        """Standard uncertainty of the column by itself."""
        return np.hypot(self.random, self.systematic)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Tables:
    """
    A field's arrays, ``(inputs + 1, cars)``; the last column was never read.

    What is not known is exact, so that it adds nothing to what does not use it.
    ``plain`` has of ``value`` what can be computed with.
    """

    value: Floats
    plain: Floats
    random: Floats
    systematic: Floats
    gauge: Ints
    bound: Codes

    @classmethod
    def of(cls, field: Field) -> "_Tables":
        known = ~np.isnan(field.value.T)
        bound = np.zeros_like(field.gauge) if field.bound is None else field.bound

        def table(array: NDArray[ScalarT], blank: float) -> NDArray[ScalarT]:
            full = np.full((len(known) + 1, field.car_count), blank, dtype=array.dtype)
            np.copyto(full[:-1], array.T, where=known)
            return full

        value, bounds = table(field.value, np.nan), table(bound.astype(np.int8), 0)
        return cls(
            value=value,
            # What is only known to be at least this is no value to compute with.
            plain=np.where(is_value(bounds), value, np.nan),
            random=table(field.random, 0),
            systematic=table(field.systematic, 0),
            gauge=table(field.gauge, -1),
            bound=bounds,
        )

    def reading(self, row: int) -> Reading:
        return Reading(
            value=self.value[row],
            random=self.random[row],
            systematic=self.systematic[row],
            gauge=self.gauge[row],
            bound=self.bound[row],
        )


class Derivation:
    """
    The columns of a field of cars, each worked out once, when asked for.

    Parameters
    ----------
    field : Field
        The cars.
    traced : bool
        Whether to trace values back to the readings, for their uncertainty.

    Examples
    --------
    >>> widths = np.array([[64.0, 16.0]])
    >>> cars = Field(
    ...     columns=("width_rear", "tyre_width_rear"),
    ...     value=widths,
    ...     random=0.01 * np.ones((1, 2)),
    ...     systematic=np.zeros((1, 2)),
    ...     gauge=np.zeros((1, 2), dtype=np.int64),
    ... )
    >>> Derivation(cars, traced=False).column("track_rear").value
    array([48.])
    """

    def __init__(self, field: Field, *, traced: bool) -> None:
        self.field = field
        self.traced = traced
        # A column is one run of memory here.
        self._tables = _Tables.of(field)
        self._rows = {name: row for row, name in enumerate(field.columns)}
        self._whole = np.ones((1, field.car_count))
        self._columns: dict[str, Traced] = {}
        self._derived: dict[str, Traced] = {}
        self._readings: dict[str, Reading] = {}

    def reading(self, name: str) -> Reading:
        """
        Take a column as it was read, or its default.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Reading
            Exact where not known, so that it adds nothing to what does not use it.
        """
        if name not in self._readings:
            self._readings[name] = self._read(name)
        return self._readings[name]

    def column(self, name: str) -> Traced:
        """
        Take a column: as read, else derived, else its default.

        An axle's height is its centre's, held up, however it was read.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Traced
            NaN where it is not known.
        """
        if name not in self._columns:
            self._columns[name] = self._work_out(name)
        return self._columns[name]

    def derived(self, name: str) -> Traced:
        """
        Derive a column, whether or not it was taken too.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Traced
            NaN where it cannot be derived.
        """
        if name not in self._derived:
            row = FORMULAS[name]
            (value,) = derive(row.by, [self.column(one) for one in row.inputs])
            self._derived[name] = value
        return self._derived[name]

    def as_read(self, name: str) -> Traced:
        """
        Take a column as it was read, or its default.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Traced
            NaN where it was not read and has no default.
        """
        row = QUANTITIES[column_owner(name)[0]]
        if row.default is None:
            value = self._tables.plain[self._rows.get(name, _NEVER_READ)]
        else:
            reading = self.reading(name)
            value = np.where(is_value(reading.bound), reading.value, np.nan)
        if not self.traced or row.kind in _EXACT:
            return Traced(value=value)
        return Traced(value=value, readings=(name,), table=self._whole)

    def _read(self, name: str) -> Reading:
        row = QUANTITIES[column_owner(name)[0]]
        reading = self._tables.reading(self._rows.get(name, _NEVER_READ))
        if row.default is None:
            return reading
        taken = ~np.isnan(reading.value)
        # Anything within the half width is alike likely: JCGM 100 4.3.7.
        spread = row.default_half_width / sqrt(3)
        return replace(
            reading,
            value=np.where(taken, reading.value, row.default),
            random=np.where(taken, reading.random, spread),
        )

    def _work_out(self, name: str) -> Traced:
        taken = self.as_read(name)
        if name in AXLE_HEIGHTS:
            return self._axle_centre(taken)
        if name not in FORMULAS:
            return taken
        read = ~np.isnan(taken.value)
        # What every car has read is not worked out, and asks for nothing more.
        return taken if read.all() else choose(read, taken, self.derived(name))

    def _axle_centre(self, taken: Traced) -> Traced:
        words = tuple(AXLE_HEIGHT_NEEDS.values())
        if all(word not in self._rows for word in words):
            return taken
        more = [self.column(name) for name in (*AXLE_HEIGHT_NEEDS, *words)]
        (centre,) = derive(_axle_centre, [taken, *more])
        return centre


def _axle_centre(m: Floats) -> Floats:
    height, diameter, play, to, held = m.T
    below = np.where(to == _UNDERSIDE, diameter / 2, 0.0)
    to_centre = np.where(to == _TOP, -diameter / 2, below)
    # On the block an axle hangs at the bottom of its play, on its wheels it sits at
    # the top: unheld, every clearance would come out too large by the whole play.
    hung = np.where(held == _HANGING, play, 0.0)
    return np.stack((height + to_centre + hung,), axis=1)


#: Columns read as `axle_height_to` and `axle_held` say, and used as the centre.
AXLE_HEIGHTS = frozenset(
    {*columns_of("axle_height_rear"), *columns_of("axle_height_front")}
)
#: What else is read to make such a height the centre's: each column with the question
#: that makes it needed, by any answer but its first (to the centre; held up).
AXLE_HEIGHT_NEEDS: Mapping[str, str] = MappingProxyType(
    {"axle_diameter": "axle_height_to", "axle_play_vertical": "axle_held"}
)

#: Columns with a formula that does not ask how the car stands.
FORMULAS: Mapping[str, WorkedOut] = MappingProxyType(
    {row.key: row.formula for row in QUANTITIES.values() if row.formula is not None}
)
