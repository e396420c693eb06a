"""
The values that a rule may have to judge: as taken, or derived at each place.

One number a car.  Millimetres, grams and so on: each in its quantity's unit.
"""

from collections.abc import Sequence
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
)
from inspection.compute.standing import Point, Standing
from inspection.compute.tracing import Traced
from inspection.compute.uncertainty import combine

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

_ORDER = {column: index for index, column in enumerate(COLUMNS)}
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
    traced : bool
        Whether to work out uncertainties; else they are 0.
    """

    def __init__(self, field: Field, *, traced: bool) -> None:
        self._traced = traced
        self._derivation = Derivation(field, traced=traced)
        self._standing = Standing(self._derivation)
        self._of: dict[str, tuple[Candidate, ...]] = {}

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
        if key not in self._of:
            places = self._standing.places(key) if QUANTITIES[key].has_formula else ()
            self._of[key] = tuple(
                Candidate(
                    point=place.point,
                    taken=False,
                    value=place.traced.value,
                    u=self._u(place.traced),
                    present=place.present,
                    bound=np.zeros(len(place.present), dtype=np.int8),
                )
                for place in places
            )
        return self._of[key]

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

    def _u(self, traced: Traced) -> FloatArray:
        names: Sequence[str] = sorted(traced.slopes, key=_ORDER.__getitem__)
        if not names:
            return np.zeros(len(traced.value))
        readings = [self._derivation.reading(name) for name in names]
        slopes = np.array([traced.slopes[name] for name in names])
        return combine(
            slopes.T[:, :, None],
            random=np.array([one.random for one in readings]).T,
            systematic=np.array([one.systematic for one in readings]).T,
            gauge_index=np.array([one.gauge for one in readings]).T,
            lengths_mm=np.array([one.value for one in readings]).T,
        )[:, 0]
