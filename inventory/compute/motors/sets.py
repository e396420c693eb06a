"""
Hand-out motors, in sets alike by no-load speed and resistance.

Revolutions a minute and ohms in, positions out.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Ints
from inventory.compute.pairing import (
    COST_STEPS,
    STEPS,
    NotASizeError,
    NotATableError,
    check_limits,
    check_measures,
    check_set_size,
    choose_windows,
    number_groups,
    pair_by_features,
)

# Directions in which the motors are lined up, half a turn in all.
DIRECTIONS = 16


@dataclass(frozen=True, kw_only=True, eq=False)
class MotorSets:
    """
    Which motors belong together, and which are left.

    Attributes
    ----------
    members : (s, k) ndarray of int64
        Positions, a set a row, the slowest first.
    speed_range_rpm, resistance_range_ohm : (s,) ndarray of float64
        Largest minus smallest.
    leftover : (n - s * k,) ndarray of int64
        Positions in no set, ascending.
    set_limit : int
        No choice has more sets: with as many, this is proven to be the most.
    """

    members: Ints
    speed_range_rpm: NDArray[np.float64]
    resistance_range_ohm: NDArray[np.float64]
    leftover: Ints
    set_limit: int


def match_motors(
    speed_rpm: ArrayLike,
    resistance_ohm: ArrayLike,
    *,
    set_size: int,
    tolerance_rpm: float,
    tolerance_ohm: float,
    group: Iterable[Hashable] | None = None,
) -> MotorSets:
    """
    Make sets of motors whose speeds and resistances both lie close together.

    Sets of two are pairs by two measures: most sets, then least sum of range over
    tolerance.  For
    three or more by two measures no quick way to the best is known; the motors are
    lined up in several directions, the best sets of neighbours in each line found
    exactly, and the best line taken.  ``set_limit`` tells how many sets there could
    be at most.

    Parameters
    ----------
    speed_rpm, resistance_ohm : (n,) array_like of float
        No-load speed and winding resistance; positive.
    set_size : int
        Members of a set, two or more.
    tolerance_rpm, tolerance_ohm : float
        Widest range inside a set, itself allowed.
    group : (n,) iterable, optional
        Only motors of the same group may share a set.

    Returns
    -------
    MotorSets

    Raises
    ------
    NotASetSizeError
        If a set would have fewer than two.
    NotATableError
        If there are not as many speeds as resistances.
    NotAMeasureError, NotASizeError, NoGroupError
        If one is missing, not positive, or without a group; with the position.
    NotALimitError
        If a tolerance is negative.
    TooManyLinksError
        If so many pairs are possible that the memory would not hold them.

    Examples
    --------
    >>> sets = match_motors(
    ...     [20100, 20900, 20150, 20120, 20950],
    ...     [2.10, 2.31, 2.12, 2.40, 2.30],
    ...     set_size=2,
    ...     tolerance_rpm=100,
    ...     tolerance_ohm=0.05,
    ... )
    >>> sets.members.tolist(), sets.leftover.tolist()
    ([[1, 4], [0, 2]], [3])
    """
    size = check_set_size(set_size)
    if np.shape(speed_rpm) != np.shape(resistance_ohm):
        text = "each motor needs a speed and a resistance"
        raise NotATableError(text)
    table = check_measures(np.stack([speed_rpm, resistance_ohm], axis=-1))
    bad = (table <= 0).any(axis=1)
    if bad.any():
        text = "speed and resistance are positive"
        raise NotASizeError(text, position=int(bad.argmax()))
    both = (tolerance_rpm, tolerance_ohm)
    tolerance = np.rint(check_limits("tolerance", both, count=2) * STEPS)
    code = number_groups(group, count=table.shape[0])
    if size == 2:
        pairs = pair_by_features(
            table / STEPS, tolerances=tolerance / STEPS, weights=(1, 1), group=code
        )
        members = np.stack([pairs.first, pairs.second], axis=1)
        return _sort(
            table,
            tolerance,
            members,
            set_limit=members.shape[0] + pairs.more_pairs,
        )
    members = _best_line(table, tolerance, code, size=size)
    limit = min(_most_sets(table, tolerance, code, size=size, by=by) for by in (0, 1))
    return _sort(table, tolerance, members, set_limit=limit)


def _best_line(
    table: NDArray[np.float64],
    tolerance: NDArray[np.float64],
    code: Ints,
    *,
    size: int,
) -> Ints:
    scaled = table / np.maximum(tolerance, 1)
    best: tuple[int, int] = (0, 0)
    members = np.empty((0, size), np.int64)
    for turn in range(DIRECTIONS):
        angle = np.pi * turn / DIRECTIONS
        along = np.round(scaled @ (np.cos(angle), np.sin(angle)), 9)
        order, spread, together = _windows(table, code, along, size=size)
        fits = together & (spread <= tolerance).all(axis=1)
        cost = spread @ (COST_STEPS / np.maximum(tolerance, 1))
        price = np.rint(np.where(fits, cost, 0)).astype(np.int64)
        start = choose_windows(fits.tolist(), price.tolist(), size)
        value = (start.size, -int(price[start].sum()))
        if value > best:
            best, members = value, order[np.add.outer(start, np.arange(size))]
    return members


def _most_sets(
    table: NDArray[np.float64],
    tolerance: NDArray[np.float64],
    code: Ints,
    *,
    size: int,
    by: int,
) -> int:
    _, spread, together = _windows(table, code, table[:, by], size=size)
    fits = together & (spread[:, by] <= tolerance[by])
    return choose_windows(fits.tolist(), [0] * fits.size, size).size


def _windows(
    table: NDArray[np.float64], code: Ints, along: NDArray[np.float64], *, size: int
) -> tuple[Ints, NDArray[np.float64], NDArray[np.bool_]]:
    order = np.lexsort((along, code))
    if order.size < size:
        return order, np.empty((0, 2)), np.empty(0, bool)
    window = sliding_window_view(table[order], size, axis=0)
    together = code[order[size - 1 :]] == code[order[: order.size - size + 1]]
    return order, window.max(axis=-1) - window.min(axis=-1), together


def _sort(
    table: NDArray[np.float64],
    tolerance: NDArray[np.float64],
    members: Ints,
    *,
    set_limit: int,
) -> MotorSets:
    inner = np.lexsort((members, table[members, 0]), axis=-1)
    members = np.take_along_axis(members, inner, axis=-1)
    spread = table[members].max(axis=1) - table[members].min(axis=1)
    closeness = spread @ (1 / np.maximum(tolerance, 1))
    order = np.lexsort((members[:, 0], table[members[:, 0], 0], closeness))
    alone = np.ones(table.shape[0], bool)
    alone[members] = False
    return MotorSets(
        members=members[order],
        speed_range_rpm=spread[order, 0] / STEPS,
        resistance_range_ohm=spread[order, 1] / STEPS,
        leftover=np.flatnonzero(alone),
        set_limit=set_limit,
    )
