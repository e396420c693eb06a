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
import scipy

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching.halves import NO_STAY, link_halves
from inventory.compute.pairing.matching.links import Links
from inventory.compute.pairing.matching.proofs import OddSet, Proof

# Many times what thousands of parts take.
MOST_STEPS = 2000
# Prices are halved again and again; down to this part of a step of cost, exactly.
FINEST = 1024
# Ints numbers up to here are exact in the assignment's floating point.
EXACT = 2**53


@dataclass(frozen=True, kw_only=True, eq=False)
class Over:
    """
    What is known of those that stay over.

    Attributes
    ----------
    number : int
        So many at least stay over in every matching,
    among : (k,) ndarray of int64
        of these parts.
    """

    number: int
    among: Ints


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
    key : (e,) ndarray of int64
        Both in one number, for looking them up.
    stayer : (m,) ndarray of int64
        Which part of each may stay over at the least loss; -1 for none.
    """

    tops: Ints
    row: Ints
    link: Ints
    low: Ints
    high: Ints
    key: Ints
    stayer: Ints

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
        key = min(one, other) * self.tops.size + max(one, other)
        return int(self.link[np.searchsorted(self.key, key)])


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
    proof = bound_matching(count, links, saving=saving, steps=MOST_STEPS)
    return proof if proof.is_best else None


def bound_matching(
    count: int, links: Links, *, saving: int, steps: int, over: Over | None = None
) -> Proof:
    """
    Find many pairs at little cost, and how far they can be from the best.

    Parameters
    ----------
    count : int
        Number of parts.
    links : Links
        Possible pairs, at least one.
    saving : int
        What one more pair is worth: more than all costs together.
    steps : int
        How often sets may be made or dissolved before it is taken as it stands.
    over : Over, optional
        How many parts are known to stay over; of an odd number one, unless said.

    Returns
    -------
    Proof
    """
    nest = _Nest(
        count, links, saving, over or Over(number=count % 2, among=np.arange(count))
    )
    for _ in range(steps):
        chosen = nest.step()
        if chosen is not None:
            return nest.proof(chosen)
    return nest.proof(nest.so_far())


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

    def __init__(self, count: int, links: Links, saving: int, over: Over) -> None:
        # Parts that must stay over are linked to blanks, for else the whole would be
        # one odd set.
        self.count, self.size = count, count + over.number
        everyone = np.tile(over.among, over.number)
        blank = np.repeat(np.arange(count, self.size), over.among.size)
        self.low = np.concatenate([links.low, everyone])
        self.high = np.concatenate([links.high, blank])
        free = np.zeros(everyone.size, np.int64)
        self.cost: Ints = np.concatenate([links.cost - saving, free])
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
        self.finest = FINEST
        while self.finest > 1 and saving * self.finest * 4 >= EXACT:
            self.finest //= 2

    def step(self) -> list[int] | None:
        outer, partner = self._link()
        if self._dissolve_sets(outer):
            return None
        if self._contract_cycles(outer, partner):
            return None
        return self._choose(outer, partner)

    def so_far(self) -> list[int]:
        """Take it as it stands: of each odd set one part stays over."""
        while True:
            outer, partner = self._link()
            if not self._dissolve_sets(outer):
                return self._choose(outer, partner)

    def _link(self) -> tuple[Outer, Ints]:
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
        return outer, partner

    def _outer(self) -> Outer:
        tops, row = np.unique(self.top, return_inverse=True)
        low, high = np.sort([row[self.low], row[self.high]], axis=0)
        link = np.flatnonzero(low != high)
        key = (low * tops.size + high)[link]
        order = np.argsort(key)
        link, key = link[order], key[order]
        # Of links between the same two the cheapest, of equal ones the first.
        start = np.flatnonzero(np.diff(key, prepend=-1))
        slack = self.slack[link]
        least = np.minimum.reduceat(slack, start) if start.size else slack
        times = np.diff(start, append=key.size)
        first = np.where(slack == np.repeat(least, times), link, self.low.size)
        link = np.minimum.reduceat(first, start) if start.size else link
        stayer = np.full(tops.size, -1)
        loss = np.argsort(self.price[: self.count], kind="stable")
        stayer[row[loss]] = loss
        return Outer(
            tops=tops,
            row=row,
            link=link,
            low=low[link],
            high=high[link],
            key=key[start],
            stayer=stayer,
        )

    def _raise_prices(self, outer: Outer, price: Ints) -> None:
        if np.any(price % 2) and self.scale < self.finest:
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

    def _contract_cycles(self, outer: Outer, partner: Ints) -> bool:
        size = partner.size
        graph = scipy.sparse.csr_array(
            (np.ones(size), (np.arange(size), partner)), shape=(size, size)
        )
        cycle_count, cycle = scipy.sparse.csgraph.connected_components(
            graph, directed=False
        )
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

    def _parts(self, number: int) -> Ints:
        if number < self.size:
            return np.array([number])
        return self.sets[number].parts

    def _choose(self, outer: Outer, partner: Ints) -> list[int]:
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
                if not free[other]:  # the last of an odd number
                    free[one] = False
                    leaving.append((int(outer.tops[one]), int(outer.stayer[one])))
                    break
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

    def proof(self, chosen: list[int]) -> Proof:
        total = int(self.cost[chosen].sum()) * self.scale
        # Of many parts the prices' sum is beyond 64 bits.
        bound = sum(self.price.tolist()) - sum(
            self.bonus[number] * (odd.parts.size - 1)
            for number, odd in self.sets.items()
        )
        return Proof(
            chosen=np.sort(chosen),
            saving=self.saving,
            scale=self.scale,
            price=self.price[: self.count],
            sets=[
                (odd.parts[odd.parts < self.count], self.bonus[number])
                for number, odd in self.sets.items()
            ],
            bound=bound,
            total=total,
        )
