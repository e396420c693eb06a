"""
Matching where possible pairs are too many to hold: the best, or how near it is.

Ints costs in, positions out.  A few links of each part are matched, first as if half
links were allowed, and the prices that come of it are tried on all the others, a
block at a time; those that cost less than the prices would have them are taken in
(column generation: Gilmore and Gomory 1961; for matching, Derigs and Metz 1991).
Prices that no link at all is too cheap for bound every matching from below (the dual
of Edmonds 1965), so that what is found is proven, or its distance told.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching.blossoms import Over, bound_matching
from inventory.compute.pairing.matching.graph_matching import match_links
from inventory.compute.pairing.matching.halves import link_halves
from inventory.compute.pairing.matching.links import (
    MOST_LINKS,
    Links,
    TooManyLinksError,
)
from inventory.compute.pairing.matching.proofs import Proof
from inventory.compute.pairing.matching.windows import Windows

# All of 20,000 parts with each other; they are looked through half a dozen times.
MOST_CANDIDATES = 200_000_000
# Of more parts even the links that are kept would fill the memory.
MOST_PARTS = 40_000
# Links of each part that are kept at every look at all of them.
NEAR = 16
# Links of each part that are matched with a proof.
NEAREST = 12
# Looks at all links for prices of half links; three or four are enough.
MOST_LOOKS = 10
# Proofs that are tried on all links; two to six are enough.
MOST_PROOFS = 12
# If more parts than this stay over, it is not told to the proof.
MOST_BLANKS = 8
# Odd sets of twenty thousand parts settle in some hundred steps; else twice as many.
MOST_STEPS = 250


@dataclass(frozen=True, kw_only=True, eq=False)
class Matched:
    """
    Chosen links, and how far they can be from the best.

    Attributes
    ----------
    low, high, cost : (k,) ndarray of int64
        The links, sorted by ``low``.
    more_pairs : int
        No choice has more than so many pairs more; 0 if these are the most.
    dearer_by : int
        Of as many pairs no choice costs less by more than this; 0 if none costs less.
    """

    low: Ints
    high: Ints
    cost: Ints
    more_pairs: int
    dearer_by: int


def match_windows(windows: Windows) -> Matched:
    """
    Find the most pairs, and of those the least total cost.

    Exact where possible pairs are few enough to be held.  Of more, it says how many
    pairs there may be besides, and how much less the same number may cost: nothing,
    as a rule.

    Parameters
    ----------
    windows : Windows
        Possible pairs.

    Returns
    -------
    Matched

    Raises
    ------
    TooManyLinksError
        If there are so many that looking through them would take minutes.

    Examples
    --------
    >>> def weigh(low, high):
    ...     return Links(low=low, high=high, cost=high - low)
    >>> matched = match_windows(
    ...     Windows(start=np.zeros(4, int), stop=np.full(4, 4), weigh=weigh)
    ... )
    >>> matched.low, matched.high, matched.more_pairs
    (array([0, 2]), array([1, 3]), 0)
    """
    total = int(windows.width.sum())
    if total > (MOST_CANDIDATES if windows.count <= MOST_PARTS else MOST_LINKS):
        raise TooManyLinksError(total)
    if total <= MOST_LINKS:
        return _match_all(windows)
    parts = []
    for offset, stretch in windows.stretches():
        total = int(stretch.width.sum())
        match = _match_all if total <= MOST_LINKS else _match_crowd
        parts.append((offset, match(stretch)))
    return Matched(
        low=np.concatenate([part.low + offset for offset, part in parts]),
        high=np.concatenate([part.high + offset for offset, part in parts]),
        cost=np.concatenate([part.cost for _, part in parts]),
        more_pairs=sum(part.more_pairs for _, part in parts),
        dearer_by=sum(part.dearer_by for _, part in parts),
    )


def _match_all(windows: Windows) -> Matched:
    links = _joined(windows.blocks(MOST_LINKS), windows.count)
    best = links.take(match_links(windows.count, links))
    return Matched(
        low=best.low, high=best.high, cost=best.cost, more_pairs=0, dearer_by=0
    )


def _match_crowd(windows: Windows) -> Matched:
    count = windows.count
    near, dearest, linked = _first_look(windows)
    if near.low.size == 0:
        return _match_all(windows)
    saving = (dearest + 1) * (count + 2)
    stay = np.zeros(count, np.int64)
    for _ in range(MOST_LOOKS):
        partner, price = link_halves(
            count, low=near.low, high=near.high, cost=near.cost - saving, stay=stay
        )
        seen = _look(windows, price, saving)
        dear = _dear(seen, price, saving)
        missed = int(np.count_nonzero(dear < 0))
        if missed == 0:
            near = _joined([near, seen], count)
            break
        near = _joined([near, seen.take(dear < 0)], count)
    # There are no more pairs than half links make, if that is proven for all links:
    # of the parts that have any, the others stay over.
    paired = count - int(np.count_nonzero(partner == np.arange(count)))
    number = linked.size - paired // 2 * 2
    if missed or number > MOST_BLANKS:
        number = linked.size % 2
    over = Over(number=number, among=linked)
    dear = _dear(near, price, saving)
    sample = near.take(np.sort(_cheapest(dear, NEAREST * count)))
    return _prove(windows, near, sample, saving, dearest, over)


def _prove(
    windows: Windows,
    near: Links,
    sample: Links,
    saving: int,
    dearest: int,
    over: Over,
) -> Matched:
    count, steps = windows.count, MOST_STEPS
    best, bound = sample.take(np.zeros(0, np.int64)), -saving * count
    for left in reversed(range(MOST_PROOFS)):
        proof = bound_matching(count, sample, saving=saving, steps=steps, over=over)
        chosen = sample.take(proof.chosen)
        best = min(best, chosen, key=lambda links: _value(links, saving))
        if left and not proof.is_best and steps < 4 * MOST_STEPS:
            # Its prices are far off, and nearly all links too cheap for them.
            steps *= 2
            missed = near.take(proof.shortfall(near) < 0)
            sample = _joined([sample, missed], count)
            continue
        missed, proven = _too_cheap(windows, proof)
        bound = max(bound, proven)
        if _value(best, saving) == bound or not proof.is_best:
            break
        sample = _joined([sample, missed], count)
    pairs, cost = best.low.size, int(best.cost.sum())
    # No pair counts for more than the saving, nor for less than that less the cost
    # of the dearest link.
    most = min(count // 2, -bound // (saving - dearest))
    return Matched(
        low=best.low,
        high=best.high,
        cost=best.cost,
        more_pairs=max(0, most - pairs),
        dearer_by=max(0, cost - max(0, bound + pairs * saving)),
    )


def _value(links: Links, saving: int) -> int:
    return int(links.cost.sum()) - links.low.size * saving


def _first_look(windows: Windows) -> tuple[Links, int, Ints]:
    # Some of the cheapest, and some of all sorts; and who has any link at all.
    kept, dearest = [], 0
    has_any = np.zeros(windows.count, bool)
    for links in windows.blocks():
        most = NEAR // 2 * _rows(links)
        step = -(-links.low.size // most)
        cheap = np.zeros(links.low.size, bool)
        cheap[_cheapest(links.cost, most)] = True
        cheap[_scattered(links.low.size) % step == 0] = True
        kept.append(links.take(cheap))
        dearest = max(dearest, int(links.cost.max()))
        has_any[links.low] = True
        has_any[links.high] = True
    return _joined(kept, windows.count), dearest, np.flatnonzero(has_any)


def _look(windows: Windows, price: Ints, saving: int) -> Links:
    # Of each block the cheapest: if any is too cheap, one of these is.
    kept = [
        links.take(_cheapest(_dear(links, price, saving), NEAR * _rows(links)))
        for links in windows.blocks()
    ]
    return _joined(kept, windows.count)


def _dear(links: Links, price: Ints, saving: int) -> Ints:
    worth = price[links.low] + price[links.high]
    return 2 * (links.cost - saving) - worth


def _too_cheap(windows: Windows, proof: Proof) -> tuple[Links, int]:
    # Some of the links that are too cheap for the prices, and what is proven all the
    # same.  What a link is too cheap by is taken off the price of one of its ends:
    # then no link is, and the bound is as much lower.  Costs are whole, and so is
    # the least.
    kept = []
    drop = np.zeros(windows.count, np.int64)
    for block in windows.blocks():
        worth = proof.price[block.low] + proof.price[block.high]
        links = block.take((block.cost - proof.saving) * proof.scale < worth)
        short = proof.shortfall(links)
        np.minimum.at(drop, links.low, short)
        links, short = links.take(short < 0), short[short < 0]
        kept.append(links.take(_cheapest(short, NEAR * _rows(block))))
    bound = proof.bound + sum(drop.tolist())
    return _joined(kept, windows.count), -(-bound // proof.scale)


def _rows(links: Links) -> int:
    return int(links.low[-1] - links.low[0]) + 1


def _cheapest(cost: Ints, most: int) -> Ints:
    # Among equals a scattered choice: the first would all want the same partners.
    if cost.size <= most:
        return np.arange(cost.size)
    key = cost + _scattered(cost.size) / 2.0**32
    return np.argpartition(key, most)[:most]


def _scattered(count: int) -> NDArray[np.uint32]:
    return np.arange(count, dtype=np.uint32) * np.uint32(2_654_435_761)


def _joined(some: Iterable[Links], count: int) -> Links:
    some = list(some)
    none = np.zeros(0, np.int64)
    low = np.concatenate([none, *(links.low for links in some)])
    high = np.concatenate([none, *(links.high for links in some)])
    cost = np.concatenate([none, *(links.cost for links in some)])
    _, first = np.unique(low * count + high, return_index=True)
    return Links(low=low[first], high=high[first], cost=cost[first])
