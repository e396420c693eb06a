"""
Clearances that were taken, moved by as much as the derived ones are.

Millimetres; one row a change of one car.
"""

from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.derivations import Derivation
from inspection.compute.drafts import Draft
from inspection.compute.fields import CodeArray, Field
from inspection.compute.quantities import QUANTITIES
from inspection.compute.standing import Place, Standing

Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]

#: Taken under the car, and derived from how it stands.
STANDING: Final = (
    "clearance_rear",
    "clearance_front",
    "clearance_least",
    "clearance_gear",
    "clearance_motor",
    "ride_height_rear",
    "ride_height_front",
)
#: Taken under the car, at a place that nothing says.
SOMEWHERE: Final = ("clearance_magnet", "clearance_body")
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
        The car before; one row.
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
        before = derived_least(self._car.take(np.zeros(2, dtype=np.intp)), taken)
        after = derived_least(self._draft.field(), taken)
        for key in taken:
            derived, was = after[key], before[key][0]
            # A part of unknown size leaves unknown what was derived before.
            moved = self._by_mm[key] if np.isnan(was) else derived - was
            limit, bound = self._draft.value(key), self._draft.bound(key)
            left, stays = _moved_bound(limit, bound, derived, was=was, moved=moved)
            is_value = bound == 0
            value = np.where(is_value, limit + moved, left)
            self._draft.put(key, value, self._where[key] & (is_value | ~stays))


def _moved_bound(
    limit: Floats, bound: CodeArray, derived: Floats, *, was: float, moved: Floats
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
    """
    parts: dict[str, list[Floats]] = {key: [] for key in keys}
    for start in range(0, max(field.cars, 1), _ROWS_AT_ONCE):
        rows = np.arange(start, min(start + _ROWS_AT_ONCE, field.cars))
        # One row alone would raise where several give NaN.
        some = field.take(np.repeat(rows, 2) if len(rows) == 1 else rows)
        standing = Standing(Derivation(some, traced=False))
        for key in keys:
            places = standing.places(key) if QUANTITIES[key].has_formula else ()
            parts[key].append(_least(places, some.cars)[: len(rows)])
    return {key: np.concatenate(part) for key, part in parts.items()}


def _least(places: tuple[Place, ...], rows: int) -> Floats:
    least = np.full(rows, np.inf)
    for place in places:
        # Unlike fmin, a minimum keeps the NaN of a place that was not measured.
        least = np.minimum(least, np.where(place.present, place.traced.value, np.inf))
    return np.where(np.isinf(least), np.nan, least)
