"""
The prices that prove a matching, or tell how far from the best it can be.

Ints prices, in steps of a fraction of a cost.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching.links import Links


@dataclass(frozen=True, kw_only=True, eq=False)
class OddSet:
    """
    An odd set of parts that acts as one.

    Attributes
    ----------
    children : list of int
        Parts and sets that it is made of, in the order of the odd cycle.
    links : list of int
        The link from each child to the next, the last to the first.
    parts : (k,) ndarray of int64
        All parts inside.
    """

    children: list[int]
    links: list[int]
    parts: Ints


@dataclass(frozen=True, kw_only=True, eq=False)
class Proof:
    """
    A matching with the prices that prove it, or how near the best it is.

    Attributes
    ----------
    chosen : (k,) ndarray of int64
        Positions of its links, ascending.
    saving : int
        What one more pair is worth.
    scale : int
        Steps of price to one of cost.
    price : (n,) ndarray of int64
        What each part is worth, in steps of price; none is worth more than nothing.
    sets : list of (parts, bonus)
        Odd sets, and what every link inside may cost less than its parts are worth.
    bound : int
        No matching costs less, each pair counting its cost less the saving; in steps
        of price.
    total : int
        What this one costs, likewise.
    """

    chosen: Ints
    saving: int
    scale: int
    price: Ints
    sets: list[tuple[Ints, int]]
    bound: int
    total: int

    @property
    def is_best(self) -> bool:
        """Whether no choice of the links is better."""
        # Costs are whole: a total less than one step above the bound is the least.
        return 0 <= self.total - self.bound < self.scale

    def shortfall(self, links: Links) -> Ints:
        """
        Tell what links cost less than the prices would have them, 0 for none.

        Parameters
        ----------
        links : Links
            Any links of the same parts.

        Returns
        -------
        (e,) ndarray of int64
            Not positive; 0 all over proves the matching for these links too.
        """
        worth = self.price[links.low] + self.price[links.high]
        reduced = np.minimum((links.cost - self.saving) * self.scale - worth, 0)
        # Only of those that look too cheap the sets they are in must be known.
        open_ = np.flatnonzero(reduced)
        low, high = links.low[open_], links.high[open_]
        reduced[open_] += 2 * self._nests.bonus_of(low, high)
        return np.minimum(reduced, 0)

    @cached_property
    def _nests(self) -> "_Nests":
        return _Nests.of(self.price.size, self.sets)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Nests:
    # Parts, sets and one root about all, as a tree: what each is in, 1, 2, 4 … levels
    # up, how deep it lies, and the bonuses of a set and all about it.
    above: list[Ints]
    depth: Ints
    bonus: Ints

    @classmethod
    def of(cls, count: int, sets: list[tuple[Ints, int]]) -> "_Nests":
        root = count + len(sets)
        parent = np.full(root + 1, root)
        top = np.arange(count)
        by_size = sorted(range(len(sets)), key=lambda number: sets[number][0].size)
        for number, which in enumerate(by_size, count):
            parts = sets[which][0]
            parent[top[parts]] = number
            top[parts] = number
        depth, bonus = np.zeros((2, root + 1), np.int64)
        for number in range(root - 1, count - 1, -1):
            depth[number] = depth[parent[number]] + 1
            bonus[number] = bonus[parent[number]] + sets[by_size[number - count]][1]
        depth[:count] = depth[parent[:count]] + 1
        above = [parent]
        while np.any(above[-1] != root):
            above.append(above[-1][above[-1]])
        return cls(above=above, depth=depth, bonus=bonus)

    def bonus_of(self, one: Ints, other: Ints) -> Ints:
        # Both as deep as each other, then up as long as they are in different sets.
        deep = self.depth[one] < self.depth[other]
        one, other = np.where(deep, other, one), np.where(deep, one, other)
        lead = self.depth[one] - self.depth[other]
        for level, above in enumerate(self.above):
            one = np.where(lead >> level & 1 == 1, above[one], one)
        for above in reversed(self.above):
            apart = above[one] != above[other]
            one = np.where(apart, above[one], one)
            other = np.where(apart, above[other], other)
        return self.bonus[self.above[0][one]]
