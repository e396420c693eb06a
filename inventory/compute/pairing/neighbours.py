"""
Pairs by size alone, as array code.

Ints micrometres in, positions out.  No database, clock, settings or chance: the
same sizes give the same pairs.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Ints
from inventory.compute.pairing.runs import stay_over
from inventory.compute.pairing.sizes import (
    LARGEST_SIZE,
    check_limit,
    check_sizes,
    number_groups,
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Matching:
    """
    Which two belong together, and who is left.

    Attributes
    ----------
    first, second : (k,) ndarray of int64
        Positions of the smaller and the larger of each pair; of two equal, the
        lower position first.
    difference_um : (k,) ndarray of int64
        Larger minus smaller; the pairs are sorted by it, then by size.
    leftover : (n - 2 * k,) ndarray of int64
        Positions without a partner, ascending.
    more_pairs : int
        No choice has more than so many pairs more: 0 if these are proven the most.
    dearer_by : int
        Of as many pairs no choice is better in total by more than this, micrometres:
        0 if these are proven the best.
    """

    first: Ints
    second: Ints
    difference_um: Ints
    leftover: Ints
    more_pairs: int = 0
    dearer_by: int = 0


def pair_by_size(
    size_um: ArrayLike, *, tolerance_um: int, group: Iterable[Hashable] | None = None
) -> Matching:
    """
    Pair neighbours in order of size: most pairs, then least total difference.

    On a line only neighbours need pairing: of two pairs that cross or nest, the
    same four sizes paired in order are never further apart.  So the sorted sizes
    fall into runs of neighbours within tolerance.  An even run pairs one way; an
    odd run leaves out the place whose loss costs least.  Of equal costs the larger
    size stays over (it can be trued), of equal sizes the lowest position.

    Parameters
    ----------
    size_um : (n,) array_like of int
        Sizes, whole micrometres; positive.
    tolerance_um : int
        Widest difference inside a pair, itself allowed.
    group : (n,) iterable, optional
        Only sizes of the same group may pair.

    Returns
    -------
    Matching

    Raises
    ------
    NotARowError, NotANumberError, NotWholeError, NotASizeError, NoGroupError
        If the sizes or groups cannot be read; with the position.
    NotALimitError
        If the tolerance is negative or not whole.

    Examples
    --------
    >>> pair_by_size([20000, 18000, 18200, 20100], tolerance_um=250).difference_um
    array([100, 200])
    """
    size = check_sizes(size_um)
    tolerance = check_limit("tolerance", tolerance_um)
    if size.size == 0:
        return sort_pairs(size, first=size, second=size)
    order, place, gap = _line_up(size, reach=tolerance, group=group)
    out = stay_over(place, gap, tolerance=tolerance)
    stays = np.ones(size.size, bool)
    stays[out] = False
    # One piece of memory for all: large pieces come several times quicker.
    pairs = (size.size - out.size) // 2
    first, second, difference, lower = np.empty((4, pairs), np.int64)
    lower[:] = np.flatnonzero(stays)[::2] if out.size else np.arange(0, size.size, 2)
    np.take(gap, lower, out=difference, mode="clip")
    if group is None or order is None:
        _sort_apart(difference, lower, spare=second)
    else:
        low, high = int(size.min()), int(size.max())
        nearness = difference * (high - low + 1) + (size[order[lower]] - low)
        _sort_both(nearness, lower, spare=second)
        np.take(gap, lower, out=difference, mode="clip")
    if order is None:
        first = lower
        np.add(lower, 1, out=second)
    else:
        np.take(order, lower, out=first, mode="clip")
        np.take(order[1:], lower, out=second, mode="clip")
        stays[:] = True
        stays[order[out]] = False
    return Matching(
        first=first,
        second=second,
        difference_um=difference,
        leftover=np.flatnonzero(~stays),
    )


def sort_pairs(size: Ints, *, first: Ints, second: Ints) -> Matching:
    """
    Sort pairs by difference, then size, then position.

    Parameters
    ----------
    size : (n,) ndarray of int64
        Sizes, whole micrometres.
    first, second : (k,) ndarray of int64
        Positions of the smaller and the larger of each pair.

    Returns
    -------
    Matching

    Examples
    --------
    >>> size = np.array([9, 5, 7, 6])
    >>> sort_pairs(size, first=np.array([2, 1]), second=np.array([0, 3])).first
    array([1, 2])
    """
    difference = size[second] - size[first]
    order = np.lexsort((first, size[first], difference))
    alone = np.ones(size.size, bool)
    alone[first] = False
    alone[second] = False
    return Matching(
        first=first[order],
        second=second[order],
        difference_um=difference[order],
        leftover=np.flatnonzero(alone),
    )


def lay_end_to_end(size: Ints, *, reach: int, group: Iterable[Hashable] | None) -> Ints:
    """
    Put sizes on one line, each group out of reach of the one before.

    Parameters
    ----------
    size : (n,) ndarray of int64
        Sizes, at least one.
    reach : int
        Sizes of different groups end up further apart than this.
    group : (n,) iterable, optional
        A label for each size.

    Returns
    -------
    (n,) ndarray of int64
        Places, from 0; inside a group as far apart as the sizes.

    Examples
    --------
    >>> lay_end_to_end(np.array([7, 9, 8]), reach=10, group=["a", "b", "a"])
    array([ 0, 15,  1])
    """
    place: Ints = size - size.min()
    if group is None:
        return place
    # No two sizes are further apart than the largest: a wider reach is no wider.
    step = int(place.max()) + min(reach, LARGEST_SIZE) + 1
    place += step * number_groups(group, count=size.size)
    return place


def sort_places(place: Ints) -> tuple[Ints, Ints]:
    """
    Sort, ties in order of position.

    Parameters
    ----------
    place : (n,) ndarray of int64
        Not negative.

    Returns
    -------
    order, place : (n,) ndarray of int64
        Positions in sorted order, and the sorted places.

    Examples
    --------
    >>> sort_places(np.array([7, 5, 7]))
    (array([1, 0, 2]), array([5, 7, 7]))
    """
    order, place = np.arange(place.size), place.copy()
    _sort_both(place, order, spare=np.empty_like(place))
    return order, place


def _line_up(
    size: Ints, *, reach: int, group: Iterable[Hashable] | None
) -> tuple[Ints | None, Ints, Ints]:
    # A bag that comes in order is not sorted again, nor looked up.
    if group is None and _is_ascending(size):
        return None, size, np.diff(size)
    order = np.arange(size.size)
    place = lay_end_to_end(size, reach=reach, group=group)
    spare = np.empty_like(place)
    _sort_both(place, order, spare=spare)
    return order, place, np.subtract(place[1:], place[:-1], out=spare[1:])


def _is_ascending(place: Ints) -> bool:
    # Of a row in no order the beginning tells.
    head = place[:1000]
    return bool(np.all(head[1:] >= head[:-1]) and np.all(place[1:] >= place[:-1]))


def _sort_apart(difference: Ints, lower: Ints, *, spare: Ints) -> None:
    # Of a million tyres nearly all have an equal: only the others are sorted.
    apart = np.flatnonzero(difference != 0)
    alike = difference.size - apart.size
    if apart.size == 0:
        return
    if apart.size > alike // 4:
        _sort_both(difference, lower, spare=spare)
        return
    far, far_lower = difference[apart], lower[apart]
    _sort_both(far, far_lower, spare=spare[: apart.size])
    lower[:alike], lower[alike:] = np.delete(lower, apart), far_lower
    difference[:alike], difference[alike:] = 0, far


def _sort_both(place: Ints, position: Ints, *, spare: Ints) -> None:
    # In place: the places, none negative, and with them their ascending positions.
    if _is_ascending(place):
        return
    bits = int(position[-1]).bit_length()
    width = bits + int(place.max()).bit_length()
    if width > 63:
        order = np.argsort(place, kind="stable")
        place[:], position[:] = place[order], position[order]
        return
    # Position packed below place: sorting numbers is several times faster than
    # finding the order of numbers, short ones twice as fast again, and equal places
    # cannot swap.
    packed: NDArray[np.integer]
    low: NDArray[np.integer]
    packed, low = spare, position
    if width <= 32:
        packed, low = np.split(spare.view(np.uint32), 2)
        low[:] = position
    packed[:] = place
    packed <<= bits
    packed |= low
    packed.sort()
    np.bitwise_and(packed, (1 << bits) - 1, out=position)
    np.right_shift(packed, bits, out=place)
