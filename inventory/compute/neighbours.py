"""
Pairs by size alone, as array code.

Whole micrometres in, positions out.  No database, clock, settings or chance: the
same sizes give the same pairs.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.sizes import (
    LARGEST_SIZE,
    Whole,
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
    """

    first: Whole
    second: Whole
    difference_um: Whole
    leftover: Whole


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
    order, place = sort_places(lay_end_to_end(size, reach=tolerance, group=group))
    stays = np.ones(size.size, bool)
    stays[_left_out(place, tolerance)] = False
    leftover = np.sort(order[~stays])
    order, place = order[stays], place[stays]
    first, second, difference = order[0::2], order[1::2], place[1::2] - place[0::2]
    nearness = difference
    if group is not None:
        nearness = difference * LARGEST_SIZE + size[first]
    closest, _ = sort_places(nearness)
    return Matching(
        first=first[closest],
        second=second[closest],
        difference_um=difference[closest],
        leftover=leftover,
    )


def sort_pairs(size: Whole, *, first: Whole, second: Whole) -> Matching:
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


def lay_end_to_end(
    size: Whole, *, reach: int, group: Iterable[Hashable] | None
) -> Whole:
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
    place: Whole = size - size.min()
    if group is None:
        return place
    # No two sizes are further apart than the largest: a wider reach is no wider.
    step = int(place.max()) + min(reach, LARGEST_SIZE) + 1
    place += step * number_groups(group, count=size.size)
    return place


def sort_places(place: Whole) -> tuple[Whole, Whole]:
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
    bits = place.size.bit_length()
    width = bits + int(place.max(initial=0)).bit_length()
    if width > 63:
        order = np.argsort(place, kind="stable")
        return order, place[order]
    # Position packed below place: sorting numbers is several times faster than
    # finding the order of numbers, short ones twice as fast again, and equal places
    # cannot swap.
    packed: NDArray[np.int64 | np.uint32] = place << bits | np.arange(place.size)
    if width <= 32:
        packed = packed.astype(np.uint32)
    packed.sort()
    order = packed & ((1 << bits) - 1)
    return order.astype(np.int64), (packed >> bits).astype(np.int64)


def _left_out(place: Whole, tolerance: int) -> Whole:
    gap = np.diff(place)
    start = np.concatenate([[0], np.flatnonzero(gap > tolerance) + 1])
    length = np.diff(start, append=place.size)
    single: Whole = start[length == 1]
    odd = (length & 1 == 1) & (length > 1)
    if not odd.any():
        return single
    start, length = start[odd], length[odd]
    # Leaving out the place of even rank r keeps the gaps 0, 2, 4 … before it and
    # 1, 3, 5 … after it: a constant plus the alternating sum of the gaps up to r.
    alternating = np.zeros(place.size, np.int64)
    gap[1::2] *= -1
    np.cumsum(gap, out=alternating[1:])
    choices = length // 2 + 1
    run_start = np.cumsum(choices) - choices
    rank = np.arange(choices.sum()) - np.repeat(run_start, choices)
    candidate = np.repeat(start, choices) + 2 * rank
    sign = np.where(start & 1 == 0, 1, -1)
    cost = alternating[candidate] * np.repeat(sign, choices)
    least = np.minimum.reduceat(cost, run_start)
    best = np.flatnonzero(cost == np.repeat(least, choices))
    # The last best of each run is the larger; of its equals the first in order has
    # the lowest position.
    run = np.repeat(np.arange(start.size), choices)[best]
    largest = candidate[best[np.append(run[1:] != run[:-1], True)]]
    return np.concatenate([single, np.searchsorted(place, place[largest])])
