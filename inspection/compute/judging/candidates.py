"""
The values that a rule may have to judge: as taken, or derived at each place.

One number a car.  Millimetres, grams and so on: each in its quantity's unit.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.geometry import Traced
from inspection.compute.judging.gauge_errors import covariance
from inspection.compute.judging.uncertainty import combine
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    Side,
    column_owner,
    columns_of,
)
from inspection.compute.stance import (
    BETWEEN,
    Derivation,
    Field,
    Ground,
    Place,
    Point,
    Standing,
)
from inventory.compute.arrays import Bools, Codes, Floats
from inventory.compute.measuring import GaugeMode

ScalarT = TypeVar("ScalarT", bound=np.generic)

# Readings that cancel leave some 1e-12 of a slope, which would let them count among
# the lengths that a gauge took.
_NO_SLOPE = 1e-9
# Read in one of several ways, and judged as one.
_CENTRES = frozenset({"axle_height_rear", "axle_height_front"})
_SIDES = {None: Point.WHOLE, Side.LEFT: Point.LEFT, Side.RIGHT: Point.RIGHT}


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class Candidate:
    """
    A quantity's value at one place, ``(cars,)`` each.

    ``present``: whether it counts for the car.  ``bound``: as in a `Field`; where two
    slips were read, ``half_width`` is half of what they are apart and ``slips_u`` the
    slips' own standard uncertainty.  ``traced``: how far each reading moves it.
    """

    point: Point
    taken: bool
    value: Floats
    u: Floats
    present: Bools
    bound: Codes
    traced: Traced
    half_width: Floats | None = None
    slips_u: Floats | None = None


class Candidates:
    """
    The candidates of a field of cars, each quantity's worked out once.

    Parameters
    ----------
    field : Field
        The cars.
    keys : collection of str
        The quantities that are asked for.
    traced : bool
        Whether to work out uncertainties; else they are 0.
    on_others, ground : optional
        As for `Standing`.
    """

    def __init__(
        self,
        field: Field,
        keys: Collection[str],
        *,
        traced: bool,
        on_others: bool = False,
        ground: Ground | None = None,
    ) -> None:
        self._derivation = Derivation(field, traced=traced)
        self._everywhere = np.ones(field.car_count, dtype=np.bool_)
        self._whole = np.ones((1, field.car_count))
        self._standing = Standing(self._derivation, on_others=on_others, ground=ground)
        places = {key: self._places(key) for key in dict.fromkeys(keys)}
        every = [place.traced for some in places.values() for place in some]
        u = _uncertainties(self._derivation, every)
        self._derived = {
            key: tuple(
                _at(place, u[id(place.traced)], taken=key in _CENTRES) for place in some
            )
            for key, some in places.items()
        }

    def taken(self, key: str) -> tuple[Candidate, ...]:
        """
        Take a quantity as it was read, left and right of a sided one.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        tuple of Candidate
            Present on every car; NaN where it was not read.
        """
        if key in _CENTRES:
            return self._derived[key]
        return tuple(self._as_read(column) for column in QUANTITIES[key].columns)

    def derived(self, key: str) -> tuple[Candidate, ...]:
        """
        Derive a quantity, whether or not it was taken too.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        tuple of Candidate
            One a place; none where it has no formula.
        """
        return self._derived[key]

    def to_judge(self, key: str, *, taken_only: bool) -> tuple[Candidate, ...]:
        """
        Choose what a rule judges: what was taken before what is derived.

        Parameters
        ----------
        key : str
            The quantity's key.
        taken_only : bool
            Whether a derived value is no evidence.

        Returns
        -------
        tuple of Candidate
            At least one is present on every car.
        """
        taken = self.taken(key)
        if taken_only or not QUANTITIES[key].has_formula:
            return taken
        (own,) = taken
        read = ~np.isnan(own.value)
        return (
            replace(own, present=read),
            *(replace(one, present=one.present & ~read) for one in self.derived(key)),
        )

    def impossible(self, key: str) -> Bools:
        """
        Tell which cars cannot have a quantity, for what carries their front.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        (cars,) ndarray of bool
            Such a car has no value for a rule to judge.
        """
        lacking = QUANTITIES[key].only_on is FrontCarrier.FRONT_WHEELS
        return self._standing.on_guide & lacking

    def covariance(self, values: Sequence[Traced], cars: NDArray[np.intp]) -> Floats:
        """
        Give the covariance of some values' errors (JCGM 100:2008, 5.2.2).

        Parameters
        ----------
        values : sequence of Traced
            The k values.
        cars : (n,) ndarray of int
            Which cars.

        Returns
        -------
        (n, k, k) ndarray
            As `combine` shares errors of a gauge between readings.
        """
        every = sorted({name for one in values for name in one.readings})
        table = np.zeros((len(values), len(every), len(cars)))
        for at, one in enumerate(values):
            rows = [every.index(name) for name in one.readings]
            table[at, rows] = one.table[:, cars]
        slope = table.transpose(2, 1, 0)
        slope = np.where(np.abs(slope) < _NO_SLOPE, 0.0, slope)
        used = slope.any(axis=(0, 2))
        slope = slope[:, used]
        names = [every[at] for at in np.flatnonzero(used)]
        readings = [self._derivation.reading(name) for name in names]

        def of_cars(arrays: list[NDArray[ScalarT]]) -> NDArray[ScalarT]:
            return np.array([array[cars] for array in arrays]).T

        scale = np.array([_length_scale(name) for name in names])
        return covariance(
            slope,
            random=of_cars([one.random for one in readings]),
            systematic=of_cars([one.systematic for one in readings]),
            gauge=of_cars([one.gauge for one in readings]),
            places=of_cars([one.value for one in readings]) / scale,
        )

    def _places(self, key: str) -> tuple[Place, ...]:
        if QUANTITIES[key].has_formula:
            return self._standing.places(key)
        if key not in _CENTRES:
            return ()
        return tuple(
            Place(
                point=_SIDES[column_owner(column)[1]],
                traced=self._derivation.column(column),
                present=self._everywhere,
            )
            for column in columns_of(key)
        )

    def _as_read(self, column: str) -> Candidate:
        _, side = column_owner(column)
        reading = self._derivation.reading(column)
        by_slips = bool((reading.bound == BETWEEN).any())
        return Candidate(
            half_width=reading.random * sqrt(3.0) if by_slips else None,
            slips_u=reading.systematic if by_slips else None,
            point=_SIDES[side],
            taken=True,
            value=reading.value,
            u=reading.u,
            present=self._everywhere,
            bound=reading.bound,
            traced=Traced(value=reading.value, readings=(column,), table=self._whole),
        )


def _at(place: Place, u: Floats, *, taken: bool) -> Candidate:
    return Candidate(
        point=place.point,
        taken=taken,
        value=place.traced.value,
        u=u,
        present=place.present,
        bound=np.zeros(len(u), dtype=np.int8),
        traced=place.traced,
    )


def _length_scale(column: str) -> float:
    mode = QUANTITIES[column_owner(column)[0]].mode
    return (mode or GaugeMode.OUTSIDE).length_scale_mm


def _uncertainties(
    derivation: Derivation, every: Sequence[Traced]
) -> dict[int, Floats]:
    """Combine what each value is traced back to; by the value's identity."""
    values = {id(one): one for one in every}
    slopes_in = {name for one in every for name in one.readings}
    names = [name for name in COLUMNS if name in slopes_in]
    if not names:
        return {key: np.zeros(len(one.value)) for key, one in values.items()}
    row = {name: index for index, name in enumerate(names)}
    rows = [row[name] for one in values.values() for name in one.readings]
    counts = [len(one.readings) for one in values.values()]
    outputs = np.repeat(np.arange(len(values)), counts)
    table = np.concatenate([one.table for one in values.values() if one.readings])
    touches = np.zeros((len(names), len(values)), dtype=np.bool_)
    touches[rows, outputs] = True
    slopes = np.zeros((*touches.shape, table.shape[1]))
    slopes[rows, outputs] = np.where(np.abs(table) < _NO_SLOPE, 0.0, table)
    readings = [derivation.reading(name) for name in names]
    scale = np.array([_length_scale(name) for name in names])
    u = combine(
        slopes.transpose(2, 0, 1),
        random=np.array([one.random for one in readings]).T,
        systematic=np.array([one.systematic for one in readings]).T,
        gauge_index=np.array([one.gauge for one in readings]).T,
        places=np.array([one.value for one in readings]).T / scale,
        touches=touches,
    )
    return dict(zip(values, u.T, strict=True))
