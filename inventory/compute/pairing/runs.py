"""
Who stays over of a row in order of size, where only neighbours may pair.

Ints micrometres in, places in the row out.
"""

import numpy as np

from inventory.compute.arrays import Ints

# Odd runs up to this number are looked through one by one; more, all at once.
FEW = 200


def stay_over(place: Ints, gap: Ints, *, tolerance: int) -> Ints:
    """
    Find the places that stay over when neighbours within tolerance pair.

    The row falls into runs of neighbours within tolerance.  An even run pairs one
    way; an odd run leaves out the place whose loss costs least.  Of equal costs the
    larger size stays over, of equal sizes the first.

    Parameters
    ----------
    place : (n,) ndarray of int64
        Sizes, ascending; at least one.
    gap : (n - 1,) ndarray of int64
        Each from the one before.
    tolerance : int
        Widest difference inside a pair, itself allowed.

    Returns
    -------
    (m,) ndarray of int64
        Places in the row, in no order; before, between and behind them lie even
        numbers of places.

    Examples
    --------
    >>> place = np.array([1, 3, 4, 6, 9])
    >>> stay_over(place, np.diff(place), tolerance=2)
    array([4])
    """
    breaks = np.flatnonzero(gap > tolerance)
    edge = np.empty(breaks.size + 2, np.int64)
    edge[0], edge[-1] = 0, place.size
    np.add(breaks, 1, out=edge[1:-1])
    side = np.empty(edge.size, bool)
    np.bitwise_and(edge, 1, out=side, casting="unsafe")
    odd = np.flatnonzero(side[1:] != side[:-1])
    start = edge[odd]
    if tolerance == 0:
        return start
    length = edge[odd + 1] - start
    single = start[np.flatnonzero(length == 1)]
    longer = np.flatnonzero(length > 1)
    start, length = start[longer], length[longer]
    # All costs are within the row's length: packed with a rank they must fit.
    reach = int(place[-1]) - int(place[0])
    if longer.size <= FEW or reach.bit_length() + place.size.bit_length() > 62:
        large = _one_by_one(gap, start, length)
    else:
        large = _at_once(gap, start, length)
    tied = np.flatnonzero((large > 0) & (gap[large - 1] == 0))
    large[tied] = np.searchsorted(place, place[large[tied]])
    return np.concatenate([single, large])


def _one_by_one(gap: Ints, start: Ints, length: Ints) -> Ints:
    last = start + length - 1
    best = [
        _worth(gap[first:end]).argmax()
        for first, end in zip(start.tolist(), last.tolist(), strict=True)
    ]
    return start + 2 * np.array(best, np.int64)


def _at_once(gap: Ints, start: Ints, length: Ints) -> Ints:
    large = np.empty(start.size, np.int64)
    for side in (0, 1):
        these = np.flatnonzero(start & 1 == side)
        if these.size == 0:
            continue
        worth = _worth(gap[side:])
        window = np.empty(2 * these.size, np.int64)
        window[0::2] = start[these] >> 1
        window[1::2] = window[0::2] + (length[these] >> 1) + 1
        if window[-1] == worth.size:
            window = window[:-1]
        most = np.maximum.reduceat(worth, window)[::2]
        large[these] = 2 * (most & (_packing(worth.size) - 1)) + side
    return large


def _worth(gap: Ints) -> Ints:
    # What it saves to leave out the place of rank 0, 2, 4 …, packed above half the
    # rank: the largest is the last of the best.  Leaving out the place of even rank
    # r keeps the gaps 0, 2, 4 … before it and 1, 3, 5 … after it: a constant plus
    # the alternating sum of the gaps up to r.
    pairs = gap.size // 2
    worth = np.empty(pairs + 1, np.int64)
    worth[0] = 0
    np.subtract(gap[1 : 2 * pairs : 2], gap[: 2 * pairs : 2], out=worth[1:])
    worth[1:] *= _packing(worth.size)
    worth[1:] += 1
    return np.cumsum(worth, out=worth)


def _packing(count: int) -> int:
    return 1 << count.bit_length()
