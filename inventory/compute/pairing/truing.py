"""
Which leftovers to true, and down to what, to make pairs of them.

Ints micrometres in, positions out.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching import Links, link_windows, match_links
from inventory.compute.pairing.neighbours import pair_by_size
from inventory.compute.pairing.sizes import (
    NotARowError,
    NotASizeError,
    check_limit,
    check_sizes,
    number_groups,
)


@dataclass(frozen=True, kw_only=True, eq=False)
class TruingPlan:
    """
    Pairs to be made by truing, and who is left.

    Attributes
    ----------
    keep, grind : (k,) ndarray of int64
        Positions of the smaller of each pair, which loses least, and of the larger.
    removal_um : (k,) ndarray of int64
        What the larger loses on the diameter; the plan is sorted by it, then by
        size.
    target_um : (k,) ndarray of int64
        The size both are cut to, at one setting: no section of either is smaller.
    leftover : (n - 2 * k,) ndarray of int64
        Positions without a partner, ascending.
    """

    keep: Ints
    grind: Ints
    removal_um: Ints
    target_um: Ints
    leftover: Ints


def plan_truing(
    size_um: ArrayLike,
    *,
    max_removal_um: int,
    floor_um: int,
    smallest_um: ArrayLike | None = None,
    clean_up_um: int = 0,
    group: Iterable[Hashable] | None = None,
) -> TruingPlan:
    """
    Plan pairs by truing: most pairs, then least rubber removed.

    Both tyres are cut mounted, at one setting, to the smallest section of the two
    less the clean-up: cut to more, a tyre out of round stays so.  Of round tyres
    two differ by what may be removed less the clean-up, and they pair by size,
    once more; else each possible pair is a link, and the links are matched.

    Parameters
    ----------
    size_um : (n,) array_like of int
        Sizes, whole micrometres; positive.
    max_removal_um : int
        The most either tyre may lose on the diameter.
    floor_um : int
        The least size after truing, itself allowed.
    smallest_um : (n,) array_like of int, optional
        The smallest section of each, at most its size; its size, unless given.
    clean_up_um : int, optional
        What comes off even the smallest section, to run true.
    group : (n,) iterable, optional
        Only sizes of the same group may pair.

    Returns
    -------
    TruingPlan

    Raises
    ------
    NotARowError, NotANumberError, NotWholeError, NotASizeError, NoGroupError
        If the sizes or groups cannot be read; with the position.
    NotALimitError
        If a limit is negative or not whole.
    TooManyLinksError
        If tyres out of round are so many that memory would not hold their pairs.

    Examples
    --------
    >>> plan = plan_truing([18000, 18400, 17500], max_removal_um=500, floor_um=17800)
    >>> plan.keep, plan.grind, plan.removal_um, plan.target_um, plan.leftover
    (array([0]), array([1]), array([400]), array([18000]), array([2]))
    """
    size = check_sizes(size_um)
    max_removal = check_limit("largest removal", max_removal_um)
    floor = check_limit("floor", floor_um)
    clean_up = check_limit("clean-up", clean_up_um)
    code = number_groups(group, count=size.size)
    smallest = _smallest(smallest_um, size)
    target = smallest - clean_up
    able = np.flatnonzero((target >= floor) & (size - target <= max_removal))
    if np.array_equal(smallest[able], size[able]):
        pairs = pair_by_size(
            size[able], tolerance_um=max(max_removal - clean_up, 0), group=code[able]
        )
        keep, grind = able[pairs.first], able[pairs.second]
    else:
        keep, grind = _match(size, target, able, code, max_removal)
    both = np.minimum(target[keep], target[grind])
    removal = size[grind] - both
    order = np.lexsort((keep, size[keep], removal))
    keep, grind = keep[order], grind[order]
    alone = np.ones(size.size, bool)
    alone[keep] = False
    alone[grind] = False
    return TruingPlan(
        keep=keep,
        grind=grind,
        removal_um=removal[order],
        target_um=both[order],
        leftover=np.flatnonzero(alone),
    )


def _smallest(smallest_um: ArrayLike | None, size: Ints) -> Ints:
    if smallest_um is None:
        return size
    smallest = check_sizes(smallest_um)
    if smallest.size != size.size:
        text = f"{size.size} sizes need a smallest section each, not {smallest.size}"
        raise NotARowError(text)
    if (larger := smallest > size).any():
        text = "a smallest section is at most the tyre's size"
        raise NotASizeError(text, position=int(larger.argmax()))
    return smallest


def _match(
    size: Ints, target: Ints, able: Ints, code: Ints, max_removal: int
) -> tuple[Ints, Ints]:
    """Match tyres by how far each may be cut: the smaller and the larger of a pair."""
    # In order of what each is cut to, those that a tyre may be cut down with end
    # where the targets are beyond its own by all that may be removed.
    order = able[np.lexsort((target[able], code[able]))]
    aim = target[order]
    start = np.flatnonzero(np.diff(code[order], prepend=-1))
    stop = [
        first + np.searchsorted(aim[first:last], aim[first:last] + max_removal, "right")
        for first, last in zip(start, [*start[1:], aim.size], strict=True)
    ]
    low, high = link_windows(np.zeros(aim.size, np.int64), np.concatenate(stop))
    near = size[order[high]] - aim[low] <= max_removal
    low, high = low[near], high[near]
    lost = size[order[low]] + size[order[high]] - 2 * aim[low]
    chosen = match_links(aim.size, Links(low=low, high=high, cost=lost))
    one, other = order[low[chosen]], order[high[chosen]]
    swap = (size[one] > size[other]) | ((size[one] == size[other]) & (one > other))
    return np.where(swap, other, one), np.where(swap, one, other)
