"""
Sets of a size: four tyres of a car, motors for a hand-out pool.

Ints micrometres, or whole rpm, in; positions out.
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Ints
from inventory.compute.errors import ComputeError
from inventory.compute.pairing.neighbours import lay_end_to_end
from inventory.compute.pairing.sizes import (
    check_limit,
    check_sizes,
)


class NotASetSizeError(ComputeError):
    """A set has two members or more."""

    code: ClassVar[str] = "not_a_set_size"


@dataclass(frozen=True, kw_only=True, eq=False)
class Sets:
    """
    Which belong together, and who is left.

    Attributes
    ----------
    members : (s, k) ndarray of int64
        Positions, a set a row, the smallest first.
    range_um : (s,) ndarray of int64
        Largest minus smallest; the sets are sorted by it, then by size.
    leftover : (n - s * k,) ndarray of int64
        Positions in no set, ascending.
    """

    members: Ints
    range_um: Ints
    leftover: Ints


def match_sets(
    size_um: ArrayLike,
    *,
    set_size: int,
    tolerance_um: int,
    group: Iterable[Hashable] | None = None,
) -> Sets:
    """
    Make sets of a size: most sets, then least total range.

    In order of size a set needs no gaps: one that is skipped inside a set may take
    the place of its largest, and of two sets that interleave the smaller half and
    the larger half range less.  So the best of the first n follows from the best of
    fewer.  Of equal totals the larger sizes stay over, of equal sizes the lowest
    position.

    Parameters
    ----------
    size_um : (n,) array_like of int
        Sizes, whole micrometres (or rpm, with the tolerance alike); positive.
    set_size : int
        Members of a set, two or more.
    tolerance_um : int
        Widest range inside a set, itself allowed.
    group : (n,) iterable, optional
        Only sizes of the same group may share a set.

    Returns
    -------
    Sets

    Raises
    ------
    NotASetSizeError
        If a set would have fewer than two.
    NotARowError, NotANumberError, NotWholeError, NotASizeError, NoGroupError
        If the sizes or groups cannot be read; with the position.
    NotALimitError
        If the tolerance is negative or not whole.

    Examples
    --------
    >>> match_sets([17, 20, 18, 21, 19, 30], set_size=2, tolerance_um=1).members
    array([[0, 2],
           [4, 1]])
    """
    size = check_sizes(size_um)
    tolerance = check_limit("tolerance", tolerance_um)
    members = check_set_size(set_size)
    if size.size < members:
        return _sorted_sets(size, np.empty((0, members), np.int64))
    place = lay_end_to_end(size, reach=tolerance, group=group)
    order = np.lexsort((-np.arange(size.size), place))
    place = place[order]
    spread = place[members - 1 :] - place[: place.size - members + 1]
    start = choose_windows((spread <= tolerance).tolist(), spread.tolist(), members)
    return _sorted_sets(size, order[np.add.outer(start, np.arange(members))])


def check_set_size(set_size: int) -> int:
    """
    Take the members of a set, two or more.

    Parameters
    ----------
    set_size : int
        Members of a set.

    Returns
    -------
    int

    Raises
    ------
    NotASetSizeError
        If there are fewer than two.

    Examples
    --------
    >>> check_set_size(4)
    4
    """
    if check_limit("set size", set_size) < 2:
        text = f"a set has two members or more, not {set_size}"
        raise NotASetSizeError(text)
    return int(set_size)


def choose_windows(fits: Sequence[bool], cost: Sequence[int], width: int) -> Ints:
    """
    Choose windows that do not overlap: most of them, then least total cost.

    Parameters
    ----------
    fits : sequence of bool
        Whether the window that starts there may be chosen.
    cost : sequence of int
        What it costs, not negative.
    width : int
        Places in a window.

    Returns
    -------
    (s,) ndarray of int64
        Where the chosen windows start, ascending; of equal choices the one with
        the last places free.

    Examples
    --------
    >>> choose_windows([True, True, True], [4, 1, 4], 2)
    array([0, 2])
    """
    worth = sum(cost) + 1
    best = [0] * (len(fits) + width)
    chosen = [False] * len(fits)
    for start, fit in enumerate(fits):
        end = start + width
        best[end] = best[end - 1]
        if fit and best[start] + worth - cost[start] > best[end]:
            best[end] = best[start] + worth - cost[start]
            chosen[start] = True
    starts = []
    end = len(best) - 1
    while end >= width:
        if chosen[end - width]:
            end -= width
            starts.append(end)
        else:
            end -= 1
    return np.array(starts[::-1], dtype=np.int64)


def _sorted_sets(size: Ints, members: Ints) -> Sets:
    inner = np.lexsort((members, size[members]), axis=-1)
    members = np.take_along_axis(members, inner, axis=-1)
    spread = size[members[:, -1]] - size[members[:, 0]]
    order = np.lexsort((members[:, 0], size[members[:, 0]], spread))
    alone: NDArray[np.bool_] = np.ones(size.size, bool)
    alone[members] = False
    return Sets(
        members=members[order],
        range_um=spread[order],
        leftover=np.flatnonzero(alone),
    )
