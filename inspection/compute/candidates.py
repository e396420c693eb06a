"""
The values that a rule may have to judge: as taken, or derived at each place.

One number a car.  Millimetres, grams and so on: each in its quantity's unit.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.derivations import Derivation
from inspection.compute.fields import CodeArray, Field
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    Side,
    column_owner,
    columns_of,
)
from inspection.compute.standing import Place, Point, Standing
from inspection.compute.tracing import Traced
from inspection.compute.uncertainty import combine

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

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

    ``present``: whether it counts for the car.  ``bound``: 0 for a value, 1 where
    it is only known to be at least this, -1 at most.
    """

    point: Point
    taken: bool
    value: FloatArray
    u: FloatArray
    present: BoolArray
    bound: CodeArray


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
    """

    def __init__(self, field: Field, keys: Collection[str], *, traced: bool) -> None:
        self._derivation = Derivation(field, traced=traced)
        self._standing = Standing(self._derivation)
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

    def impossible(self, key: str) -> BoolArray:
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
        lacking = QUANTITIES[key].needs_of(FrontCarrier.GUIDE) is None
        return self._standing.on_guide & lacking

    def _places(self, key: str) -> tuple[Place, ...]:
        if QUANTITIES[key].has_formula:
            return self._standing.places(key)
        if key not in _CENTRES:
            return ()
        everywhere = np.ones(self._derivation.field.cars, dtype=np.bool_)
        return tuple(
            Place(
                point=_SIDES[column_owner(column)[1]],
                traced=self._derivation.column(column),
                present=everywhere,
            )
            for column in columns_of(key)
        )

    def _as_read(self, column: str) -> Candidate:
        _, side = column_owner(column)
        reading = self._derivation.reading(column)
        return Candidate(
            point=_SIDES[side],
            taken=True,
            value=reading.value,
            u=reading.u,
            present=np.ones(len(reading.value), dtype=np.bool_),
            bound=reading.bound,
        )


def _at(place: Place, u: FloatArray, *, taken: bool) -> Candidate:
    return Candidate(
        point=place.point,
        taken=taken,
        value=place.traced.value,
        u=u,
        present=place.present,
        bound=np.zeros(len(u), dtype=np.int8),
    )


def _uncertainties(
    derivation: Derivation, every: Sequence[Traced]
) -> dict[int, FloatArray]:
    """Combine what each value is traced back to; by the value's identity."""
    values = {id(one): one for one in every}
    slopes_in = {name for one in every for name in one.slopes}
    names = [name for name in COLUMNS if name in slopes_in]
    if not names:
        return {key: np.zeros(len(one.value)) for key, one in values.items()}
    row = {name: index for index, name in enumerate(names)}
    cars = len(every[0].value)
    slopes = np.zeros((len(values), len(names), cars))
    touches = np.zeros((len(names), len(values)), dtype=np.bool_)
    for output, one in enumerate(values.values()):
        for name, slope in one.slopes.items():
            slopes[output, row[name]] = np.where(np.abs(slope) < _NO_SLOPE, 0.0, slope)
            touches[row[name], output] = True
    readings = [derivation.reading(name) for name in names]
    u = combine(
        slopes.transpose(2, 1, 0),
        random=np.array([one.random for one in readings]).T,
        systematic=np.array([one.systematic for one in readings]).T,
        gauge_index=np.array([one.gauge for one in readings]).T,
        lengths_mm=np.array([one.value for one in readings]).T,
        touches=touches,
    )
    return dict(zip(values, u.T, strict=True))
