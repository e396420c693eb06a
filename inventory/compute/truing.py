"""
Which leftovers to true, and down to what, to make pairs of them.

Whole micrometres in, positions out.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.neighbours import pair_by_size
from inventory.compute.sizes import Whole, check_limit, check_sizes, number_groups


@dataclass(frozen=True, kw_only=True, eq=False)
class TruingPlan:
    """
    Pairs to be made by truing, and who is left.

    Attributes
    ----------
    keep, grind : (k,) ndarray of int64
        Positions of the smaller of each pair, which only loses the clean-up, and
        of the larger.
    removal_um : (k,) ndarray of int64
        What the larger loses on the diameter; the plan is sorted by it, then by
        size.
    target_um : (k,) ndarray of int64
        The size both are cut to, at one setting.
    leftover : (n - 2 * k,) ndarray of int64
        Positions without a partner, ascending.
    """

    keep: Whole
    grind: Whole
    removal_um: Whole
    target_um: Whole
    leftover: Whole


def plan_truing(
    size_um: ArrayLike,
    *,
    max_removal_um: int,
    floor_um: int,
    clean_up_um: int = 0,
    group: Iterable[Hashable] | None = None,
) -> TruingPlan:
    """
    Plan pairs by truing: most pairs, then least rubber removed.

    Both tyres are cut mounted, at one setting, to the smaller less the clean-up.
    So a tyre can take part if it has the floor and the clean-up in it, and two
    differ by what may be removed less the clean-up: pairs by size, once more.

    Parameters
    ----------
    size_um : (n,) array_like of int
        Sizes, whole micrometres; positive.
    max_removal_um : int
        The most either tyre may lose on the diameter.
    floor_um : int
        The least size after truing, itself allowed.
    clean_up_um : int, optional
        What even the smaller loses, to run true.
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
    able = np.flatnonzero((size - clean_up >= floor) & (clean_up <= max_removal))
    pairs = pair_by_size(
        size[able], tolerance_um=max(max_removal - clean_up, 0), group=code[able]
    )
    keep, grind = able[pairs.first], able[pairs.second]
    alone = np.ones(size.size, bool)
    alone[keep] = False
    alone[grind] = False
    return TruingPlan(
        keep=keep,
        grind=grind,
        removal_um=pairs.difference_um + clean_up,
        target_um=size[keep] - clean_up,
        leftover=np.flatnonzero(alone),
    )
