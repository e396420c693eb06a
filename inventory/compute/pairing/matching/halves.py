"""
The best matching if half links were allowed.

Every part stands on both sides of an assignment, whose optimum is a permutation.  A
cycle of even length is a choice of whole links; one of odd length is half links
round it, which no bag can hold.
"""

import numpy as np
import scipy

from inventory.compute.arrays import Ints

# The prices settle long before; fewer rounds would leave a weaker bound.
PRICE_ROUNDS = 1000
# The cost of staying over, where that is no choice.
NO_STAY = np.iinfo(np.int64).max


def link_halves(
    count: int, *, low: Ints, high: Ints, cost: Ints, stay: Ints
) -> tuple[Ints, Ints]:
    """
    Link all parts, by halves where that is cheaper, and price them.

    Parameters
    ----------
    count : int
        Number of parts.
    low, high : (e,) ndarray of int64
        Possible pairs, each once.
    cost : (e,) ndarray of int64
        What they cost; any sign.
    stay : (n,) ndarray of int64
        What staying over costs each part; ``NO_STAY`` where it may not.

    Returns
    -------
    partner : (n,) ndarray of int64
        To whom each is linked; a part that stays over, to itself.
    price : (n,) ndarray of int64
        Twice what each part is worth: no two are worth more than twice the cost of
        their link, nor a part more than staying over, and those that are chosen are
        worth just that.

    Examples
    --------
    >>> low, high = np.array([0, 0, 1]), np.array([1, 2, 2])
    >>> _, price = link_halves(
    ...     3, low=low, high=high, cost=low - 5, stay=np.zeros(3, np.int64)
    ... )
    >>> price
    array([-6, -4, -4])
    """
    able = np.flatnonzero(stay != NO_STAY)
    weight = np.concatenate([cost, cost, stay[able]])
    # An assignment wants no zeros; the same for all changes nothing.
    lift = 1 - int(weight.min())
    graph = scipy.sparse.csr_array(
        (
            (weight + lift).astype(np.float64),
            (np.concatenate([low, high, able]), np.concatenate([high, low, able])),
        ),
        shape=(count, count),
    )
    graph.sort_indices()
    partner: Ints = scipy.sparse.csgraph.min_weight_full_bipartite_matching(graph)[
        1
    ].astype(np.int64)
    return partner, _prices(graph, partner, lift)


def _prices(graph: "scipy.sparse.csr_array", partner: Ints, lift: int) -> Ints:
    # Shortest paths to a better assignment, of which there is none: they settle.
    row_start = graph.indptr[:-1]
    cost = graph.data.astype(np.int64) - lift
    own = graph[np.arange(partner.size), partner].astype(np.int64) - lift
    change = cost - own[graph.indices]
    column = np.zeros(partner.size, np.int64)
    for _ in range(PRICE_ROUNDS):
        offer = np.minimum.reduceat(column[partner][graph.indices] + change, row_start)
        if np.all(offer >= column):
            break
        column = np.minimum(column, offer)
    row: Ints = np.minimum.reduceat(cost - column[graph.indices], row_start)
    return row + column
