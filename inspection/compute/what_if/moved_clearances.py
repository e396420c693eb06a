"""
Clearances that were taken, moved by as much as the derived ones are.

Millimetres; one row a change of one car.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from inspection.compute.quantities import QUANTITIES, Kind
from inspection.compute.stance import (
    Derivation,
    Field,
    Place,
    Standing,
    is_value,
    quantities_reading,
)
from inspection.compute.what_if.car_copies import Draft
from inventory.compute.arrays import Bools, Codes, Floats
from inventory.compute.measuring import Instrument

_ON_THE_TYRES: Final = quantities_reading(frozenset({"tyre_diameter_rear_left"}))
#: Taken under the car, and derived from how it stands.
STANDING: Final = tuple(
    key
    for key, row in QUANTITIES.items()
    if row.kind is Kind.TAKEN_OR_DERIVED and key in _ON_THE_TYRES
)
#: Taken under the car, at a place that nothing says.
SOMEWHERE: Final = tuple(
    key
    for key, row in QUANTITIES.items()
    if row.stands and Instrument.SLIP_GAUGE in row.gauges
)
_ROWS_AT_ONCE: Final = 4096


class Moves:
    """
    By how much taken clearances move, gathered change by change.

    What is gathered counts where nothing can be derived.

    Parameters
    ----------
    draft : Draft
        The car with its changes.
    car : Field
        The car before, one row; or the cars, as many as the draft has.
    """

    def __init__(self, draft: Draft, car: Field) -> None:
        self._draft = draft
        self._car = car
        self._by_mm: dict[str, Floats] = {}
        self._where: dict[str, Bools] = {}

    def add(self, key: str, by_mm: Floats, where: Bools) -> None:
        """
        Note that a change moves a clearance.

        Parameters
        ----------
        key : str
            The clearance's quantity.
        by_mm : (rows,) ndarray
            By how much, where nothing can be derived.
        where : (rows,) ndarray of bool
            In which rows.
        """
        rows = self._draft.rows
        nowhere, nothing = np.zeros(rows, dtype=np.bool_), np.zeros(rows)
        self._where[key] = self._where.get(key, nowhere) | where
        self._by_mm[key] = self._by_mm.get(key, nothing) + np.where(where, by_mm, 0.0)

    def carry_taken(self) -> None:
        """Write into the draft what the clearances that were taken would be."""
        taken = [key for key in self._where if self._draft.has(key)]
        if not taken:
            return
        before = derived_least(self._car, taken)
        after = derived_least(self._draft.field(), taken)
        for key in taken:
            derived, was = after[key], before[key]
            # A part of unknown size leaves unknown what was derived before.
            moved = np.where(np.isnan(was), self._by_mm[key], derived - was)
            limit, bound = self._draft.value(key), self._draft.bound(key)
            left, stays = _moved_bound(limit, bound, derived, was=was, moved=moved)
            whole = is_value(bound)
            value = np.where(whole, limit + moved, left)
            self._draft.put(key, value, self._where[key] & (whole | ~stays))


def _moved_bound(
    limit: Floats, bound: Codes, derived: Floats, *, was: Floats, moved: Floats
) -> tuple[Floats, Bools]:
    """
    Say what a go gauge leaves to be known, and where it still says what it said.

    Where what is derived agrees with the slip, that counts.  Where it does not, or
    there is none, the slip is the evidence: of one that went so much is left as the
    car does not fall, and one that stopped stops until it is tried again, for it
    says nothing of how far the car must rise.
    """
    goes = bound > 0
    agrees = np.where(goes, was >= limit, was < limit)
    stays = ~agrees & (~goes | (np.round(moved, 6) >= 0.0))
    left = np.where(goes & ~np.isnan(was), limit + moved, np.nan)
    return np.where(agrees, derived, left), stays


def derived_least(field: Field, keys: Sequence[str]) -> dict[str, Floats]:
    """
    Derive the least of some quantities over their places, whatever was taken.

    Parameters
    ----------
    field : Field
        The cars.
    keys : sequence of str
        Quantities.

    Returns
    -------
    dict of str to (cars,) ndarray
        NaN where one cannot be derived.

    Examples
    --------
    >>> car = Field.exact({"teeth_pinion": [9.0], "teeth_gear": [27.0]})
    >>> derived_least(car, ["gear_ratio", "rollout"])
    {'gear_ratio': array([3.]), 'rollout': array([nan])}
    """
    parts: dict[str, list[Floats]] = {key: [] for key in keys}
    for start in range(0, max(field.car_count, 1), _ROWS_AT_ONCE):
        rows = np.arange(start, min(start + _ROWS_AT_ONCE, field.car_count))
        # One row alone would raise where several give NaN.
        some = field.take(np.repeat(rows, 2) if len(rows) == 1 else rows)
        standing = Standing(Derivation(some, traced=False))
        for key in keys:
            places = standing.places(key) if QUANTITIES[key].has_formula else ()
            parts[key].append(_least(places, some.car_count)[: len(rows)])
    return {key: np.concatenate(part) for key, part in parts.items()}


def _least(places: tuple[Place, ...], rows: int) -> Floats:
    least = np.full(rows, np.inf)
    for place in places:
        # Unlike fmin, a minimum keeps the NaN of a place that was not measured.
        least = np.minimum(least, np.where(place.present, place.traced.value, np.inf))
    return np.where(np.isinf(least), np.nan, least)
