"""
The exact matching of a crowded graph, and the proof that it is one.

Half links, contracted: where the optimum with half links runs round an odd set of
parts, the set becomes one part, and so on until none does; a set that turns out to
be worth nothing is dissolved again.  What remains is a matching, and the prices of
parts and sets prove that no other is better (Edmonds 1965).  The prices are whole
numbers and the proof is checked; without it there is no answer.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from inventory.compute.halves import NO_STAY, link_halves
from inventory.compute.links import Links
from inventory.compute.sizes import Whole

# Many times what thousands of parts take.
MOST_STEPS = 2000
# Prices are halved again and again; down to this part of a step of cost, exactly.
FINEST = 1024
# Whole numbers up to here are exact in the assignment's floating point.
EXACT = 2**53


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
    parts: Whole


@dataclass(frozen=True, kw_only=True, eq=False)
class Proof:
    """
    A matching with the prices that prove it.

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
    """

    chosen: Whole
    saving: int
    scale: int
    price: Whole
    sets: list[tuple[Whole, int]]

    def shortfall(self, links: Links) -> Whole:
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
        open_ = np.flatnonzero(reduced)
        inside = np.zeros(self.price.size, bool)
        for parts, bonus in self.sets:
            inside[parts] = True
            within = open_[inside[links.low[open_]] & inside[links.high[open_]]]
            reduced[within] += 2 * bonus
            inside[parts] = False
        return np.minimum(reduced, 0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Outer:
    """
    The graph as it stands, odd sets taken as one.

    Attributes
    ----------
    tops : (m,) ndarray of int64
        The parts and sets that are inside no other.
    row : (n,) ndarray of int64
        In which of them each part is.
    link : (e,) ndarray of int64
        The cheapest link between each two of them, as far as there is one.
    low, high : (e,) ndarray of int64
        Which two, ``low < high``; sorted by both.
    stayer : (m,) ndarray of int64
        Which part of each may stay over at the least loss; -1 for none.
    """

    tops: Whole
    row: Whole
    link: Whole
    low: Whole
    high: Whole
    stayer: Whole

    def link_between(self, one: int, other: int) -> int:
        """
        Find the cheapest link between two tops.

        Parameters
        ----------
        one, other : int
            Positions in ``tops``.

        Returns
        -------
        int
        """
        width = self.tops.size
        key = min(one, other) * width + max(one, other)
        return int(self.link[np.searchsorted(self.low * width + self.high, key)])


def prove_matching(count: int, links: Links, *, saving: int) -> Proof | None:
    """
    Find the most pairs at least cost, with the proof.

    Parameters
    ----------
    count : int
        Number of parts.
    links : Links
        Possible pairs, at least one.
    saving : int
        What one more pair is worth: more than all costs together.

    Returns
    -------
    Proof or None
        None where the costs are too large for exact prices, or no proof came about.
    """
    if saving * FINEST * 4 >= EXACT:
        return None
    nest = _Nest(count, links, saving)
    for _ in range(MOST_STEPS):
        chosen = nest.step()
        if chosen is not None:
            return nest.proof(chosen)
    return None


def worth_of_a_pair(count: int, links: Links) -> int:
    """
    Give what one more pair must be worth to go before all costs together.

    Parameters
    ----------
    count : int
        Number of parts.
    links : Links
        Possible pairs, at least one.

    Returns
    -------
    int
    """
    return (int(links.cost.max()) + 1) * (count + 2)


class _Nest:
    """The parts, the odd sets they are nested in, and the prices so far."""

    def __init__(self, count: int, links: Links, saving: int) -> None:
        # Of an odd number of parts one must stay over: it is linked to a blank, for
        # else the whole would be one odd set.
        self.count, self.size = count, count + count % 2
        everyone = np.arange(count if count % 2 else 0)
        self.low = np.concatenate([links.low, everyone])
        self.high = np.concatenate([links.high, np.full(everyone.size, count)])
        free = np.zeros(everyone.size, np.int64)
        self.cost: Whole = np.concatenate([links.cost - saving, free])
        self.real = links.cost.size
        self.saving = saving
        self.slack = self.cost.copy()
        self.price = np.zeros(self.size, np.int64)
        self.scale = 1
        self.top = np.arange(self.size)
        self.sets: dict[int, OddSet] = {}
        self.bonus: dict[int, int] = {}
        self.parent: dict[int, int] = {}
        self.next_set = self.size

    def step(self) -> list[int] | None:
        outer = self._outer()
        stay = np.append(-2 * self.price[: self.count], NO_STAY)[outer.stayer]
        partner, price = link_halves(
            outer.tops.size,
            low=outer.low,
            high=outer.high,
            cost=self.slack[outer.link],
            stay=stay,
        )
        self._raise_prices(outer, price)
        if self._dissolve_sets(outer):
            return None
        if self._contract_cycles(outer, partner):
            return None
        return self._choose(outer, partner)

    def _outer(self) -> Outer:
        tops, row = np.unique(self.top, return_inverse=True)
        low, high = np.sort([row[self.low], row[self.high]], axis=0)
        link = np.flatnonzero(low != high)
        link = link[np.lexsort((self.slack[link], high[link], low[link]))]
        key = low[link] * tops.size + high[link]
        link = link[np.diff(key, prepend=-1) != 0]
        stayer = np.full(tops.size, -1)
        loss = np.argsort(self.price[: self.count], kind="stable")
        stayer[row[loss]] = loss
        return Outer(
            tops=tops,
            row=row,
            link=link,
            low=low[link],
            high=high[link],
            stayer=stayer,
        )

    def _raise_prices(self, outer: Outer, price: Whole) -> None:
        if np.any(price % 2) and self.scale < FINEST:
            self.scale *= 2
            self.slack *= 2
            self.price *= 2
            self.bonus = {number: 2 * bonus for number, bonus in self.bonus.items()}
            price = 2 * price
        # Past the finest step half a step is left off: the proof tells if it matters.
        rise = price // 2
        self.price += rise[outer.row]
        low, high = outer.row[self.low], outer.row[self.high]
        self.slack -= np.where(low == high, 0, rise[low] + rise[high])
        for number, top in enumerate(outer.tops.tolist()):
            if top in self.bonus:
                self.bonus[top] += int(rise[number])

    def _dissolve_sets(self, outer: Outer) -> bool:
        # A set's bonus that falls below nothing would prove nothing: the parts are
        # better off without the set.
        worthless = [top for top in outer.tops.tolist() if self.bonus.get(top, 0) < 0]
        dissolved = bool(worthless)
        while worthless:
            number = worthless.pop()
            inside = (self.top[self.low] == number) & (self.top[self.high] == number)
            bonus = self.bonus.pop(number)
            for child in self.sets.pop(number).children:
                del self.parent[child]
                self.top[self._parts(child)] = child
                if child in self.sets:
                    self.bonus[child] += bonus
                    if self.bonus[child] < 0:
                        worthless.append(child)
            apart = self.top[self.low] != self.top[self.high]
            self.slack[inside & apart] -= 2 * bonus
        return dissolved

    def _contract_cycles(self, outer: Outer, partner: Whole) -> bool:
        size = partner.size
        graph = csr_array(
            (np.ones(size), (np.arange(size), partner)), shape=(size, size)
        )
        cycle_count, cycle = connected_components(graph, directed=False)
        length = np.bincount(cycle, minlength=cycle_count)
        odd = np.flatnonzero((length % 2 == 1) & (length > 1))
        _, start = np.unique(cycle, return_index=True)
        for first in start[odd].tolist():
            members = [first]
            while (following := int(partner[members[-1]])) != first:
                members.append(following)
            after = [*members[1:], first]
            self._contract(
                children=outer.tops[members].tolist(),
                links=[
                    outer.link_between(one, other)
                    for one, other in zip(members, after, strict=True)
                ],
            )
        return odd.size > 0

    def _contract(self, *, children: list[int], links: list[int]) -> None:
        parts = np.concatenate([self._parts(child) for child in children])
        number = self.next_set
        self.next_set += 1
        self.sets[number] = OddSet(children=children, links=links, parts=parts)
        self.bonus[number] = 0
        self.parent |= dict.fromkeys(children, number)
        self.top[parts] = number

    def _parts(self, number: int) -> Whole:
        if number < self.size:
            return np.array([number])
        return self.sets[number].parts

    def _choose(self, outer: Outer, partner: Whole) -> list[int]:
        chosen: list[int] = []
        free = np.ones(partner.size, bool)
        # Who leaves a set, to a partner or to stay over; the rest pair up inside.
        leaving = []
        for start in range(partner.size):
            one, other = start, int(partner[start])
            if one == other:
                leaving.append((int(outer.tops[one]), int(outer.stayer[one])))
                continue
            while free[one]:
                free[one] = free[other] = False
                link = outer.link_between(one, other)
                chosen.append(link)
                leaving += [(self._top_of(end), end) for end in self._ends(link)]
                one = int(partner[other])
                other = int(partner[one])
        while leaving:
            number, part = leaving.pop()
            if number >= self.size:
                chosen += self._pair_inside(number, part, leaving)
        return [link for link in chosen if link < self.real]

    def _pair_inside(
        self, number: int, part: int, leaving: list[tuple[int, int]]
    ) -> list[int]:
        odd = self.sets[number]
        child = self._child_of(number, part)
        leaving.append((child, part))
        place = odd.children.index(child)
        links = [*odd.links[place:], *odd.links[:place]][1::2]
        for link in links:
            leaving += [(self._child_of(number, end), end) for end in self._ends(link)]
        return links

    def _child_of(self, number: int, part: int) -> int:
        child = part
        while self.parent[child] != number:
            child = self.parent[child]
        return child

    def _top_of(self, part: int) -> int:
        return int(self.top[part])

    def _ends(self, link: int) -> tuple[int, int]:
        return int(self.low[link]), int(self.high[link])

    def proof(self, chosen: list[int]) -> Proof | None:
        total = int(self.cost[chosen].sum()) * self.scale
        bound = int(self.price.sum()) - sum(
            self.bonus[number] * (odd.parts.size - 1)
            for number, odd in self.sets.items()
        )
        # Costs are whole: a total less than one step above the bound is the least.
        if total - bound >= self.scale:
            return None
        return Proof(
            chosen=np.sort(chosen),
            saving=self.saving,
            scale=self.scale,
            price=self.price[: self.count],
            sets=[
                (odd.parts[odd.parts < self.count], self.bonus[number])
                for number, odd in self.sets.items()
            ],
        )
