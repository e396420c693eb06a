"""
Tyre sizes: from which rear diameter to which a car is legal.

Both rear tyres alike, everything else as it is; millimetres.  Only rules that
tyres move count.  The room that each place leaves to each limit is as good as a
straight line between two near sizes, so where it is used up is worked out from the
ends, and narrowed to a millionth: a range narrower than a step is not missed.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from inspection.compute.judging import Rules
from inspection.compute.quantities import QUANTITIES
from inspection.compute.stance import Field
from inspection.compute.what_if.changed_cars import TYRES, with_tyres
from inspection.compute.what_if.legality import (
    rear_tyres,
    rests_on,
    rooms_left,
)
from inspection.compute.what_if.moved_clearances import SOMEWHERE
from inventory.compute.arrays import Bools, Floats
from inventory.compute.numbers import MILLION

_STEP_MM: Final = 0.05
#: So many sizes at once narrow an end to a sixty-fourth.
_PARTS: Final = 64
#: 0.05 mm over 64 four times is less than the millionth that counts.
_NARROWINGS: Final = 4


@dataclass(frozen=True, kw_only=True)
class TyreSizes:
    """
    The range of rear diameters that a car may wear, nearest to what it wears now.

    ``lowest_mm`` and ``highest_mm`` are NaN where no size is legal;
    ``lowest_rule`` and ``highest_rule`` are places of the rules that govern, None
    where no rule does: then the size is where plausible tyres end, and no limit.
    """

    lowest_mm: float
    highest_mm: float
    lowest_rule: int | None
    highest_rule: int | None


def legal_tyre_sizes(rulebook: Rules, car: Field) -> TyreSizes:
    """
    Find the rear diameters at which a car keeps every rule that tyres move.

    Under guarded acceptance a size counts that leaves the car inside by the guard
    band.  To a millionth, rounded inwards; of several ranges the one nearest to the
    present tyres is meant.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.

    Returns
    -------
    TyreSizes
        Lowest and highest, mm, and which rules govern.

    Raises
    ------
    NotOneCarError
        If the field is not of one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.

    Examples
    --------
    >>> car = Field.exact(
    ...     {"tyre_diameter_rear_left": [20.0], "tyre_diameter_rear_right": [20.0]}
    ... )
    >>> rules = Rules.within(
    ...     {"tyre_diameter_rear_left": (19.5, 21.0)}, columns=car.columns
    ... )
    >>> sizes = legal_tyre_sizes(rules, car)
    >>> sizes.lowest_mm, sizes.highest_mm
    (19.5, 21.0)
    """
    now_mm = rear_tyres(car).mean_mm
    moved = rulebook.mandatory & rests_on(rulebook, car, (*TYRES, *SOMEWHERE))
    asked = rulebook.only(np.flatnonzero(moved))
    plausible = QUANTITIES["tyre_diameter_rear"]
    steps = round((plausible.high - plausible.low) / _STEP_MM)
    grid = np.linspace(plausible.low, plausible.high, steps + 1)
    if plausible.low < now_mm < plausible.high:
        grid = np.unique(np.append(grid, now_mm))
    scan = _Scan(asked, car)
    pieces = _Pieces.of(grid, scan.rooms(grid))
    if not pieces.any.any():
        return TyreSizes(
            lowest_mm=math.nan, highest_mm=math.nan, lowest_rule=None, highest_rule=None
        )
    first, last = pieces.nearest(now_mm)
    inside = (pieces.low[first] + pieces.high[first]) / 2.0
    lowest, lowest_rule = scan.end(inside, float(grid[first]))
    inside = (pieces.low[last] + pieces.high[last]) / 2.0
    highest, highest_rule = scan.end(inside, float(grid[last + 1]))
    which = np.flatnonzero(moved)
    return TyreSizes(
        lowest_mm=lowest,
        highest_mm=highest,
        lowest_rule=None if lowest_rule is None else int(which[lowest_rule]),
        highest_rule=None if highest_rule is None else int(which[highest_rule]),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Pieces:
    """
    What is legal between each two neighbours of a grid.

    ``low`` and ``high`` are ``(pieces,)``; ``any`` says where anything is.
    """

    grid: Floats
    low: Floats
    high: Floats

    @classmethod
    def of(cls, grid: Floats, room: Floats) -> "_Pieces":
        """Cut every piece where a room is used up, along a straight line."""
        start, end = room[:-1], room[1:]
        width = np.diff(grid)[:, None]
        with np.errstate(invalid="ignore", divide="ignore"):
            root = grid[:-1, None] + width * start / (start - end)
        low = np.where((start < 0.0) & (end >= 0.0), root, grid[:-1, None])
        high = np.where((start >= 0.0) & (end < 0.0), root, grid[1:, None])
        never = ((start < 0.0) & (end < 0.0)).any(axis=1)
        lowest = low.max(axis=1, initial=-math.inf)
        lowest = np.maximum(lowest, grid[:-1])
        highest = np.minimum(high.min(axis=1, initial=math.inf), grid[1:])
        return cls(grid=grid, low=np.where(never, math.inf, lowest), high=highest)

    @property
    def any(self) -> Bools:
        """Where any size is legal."""
        return self.low <= self.high

    def nearest(self, size_mm: float) -> tuple[int, int]:
        """Find the first and last piece of the run that comes nearest to a size."""
        legal = self.any
        apart = np.maximum(np.maximum(self.low - size_mm, size_mm - self.high), 0.0)
        at = np.flatnonzero(legal)
        first = last = int(at[np.argmin(apart[at])])
        while first > 0 and self._meet(first - 1):
            first -= 1
        while last < len(legal) - 1 and self._meet(last):
            last += 1
        return first, last

    def _meet(self, piece: int) -> bool:
        """Whether a piece and the next are legal where they touch."""
        here, there = self.any[piece], self.any[piece + 1]
        edge = self.grid[piece + 1]
        return bool(
            here and there and self.high[piece] >= edge and self.low[piece + 1] <= edge
        )


@dataclass(frozen=True, eq=False)
class _Scan:
    """Sizes of both rear tyres, tried on one car."""

    rulebook: Rules
    car: Field

    def rooms(self, size_mm: Floats) -> Floats:
        """Take the rooms at each place and limit; what is not known is no hindrance."""
        rooms = rooms_left(self.rulebook, with_tyres(self.car, size_mm, size_mm))
        return np.where(np.isnan(rooms.room), np.inf, rooms.room)

    def end(self, inside_mm: float, towards_mm: float) -> tuple[float, int | None]:
        """Go from a legal size on to the last one that is, and say what stops it."""
        good, bad = inside_mm, towards_mm
        if self._legal(np.array([bad]))[0]:
            return bad, None
        for _ in range(_NARROWINGS):
            sizes = np.linspace(good, bad, _PARTS + 1)
            stop = int(np.flatnonzero(~self._legal(sizes)[1:])[0]) + 1
            good, bad = float(sizes[stop - 1]), float(sizes[stop])
        rooms = rooms_left(
            self.rulebook, with_tyres(self.car, np.array([bad]), np.array([bad]))
        )
        inwards = math.ceil if bad < good else math.floor
        good = inwards(round(good * MILLION, 3)) / MILLION
        return good, int(rooms.rule[int(np.nanargmin(rooms.room[0]))])

    def _legal(self, size_mm: Floats) -> Bools:
        return np.asarray((self.rooms(size_mm) >= 0.0).all(axis=1))
