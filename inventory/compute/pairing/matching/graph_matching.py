"""
The exact matching of a graph: most pairs, then least total cost.

Ints costs in, positions out.  The blossom algorithm does it; where links are many,
a few of them are matched with a proof, and the proof tried on all.
"""

import numpy as np
import rustworkx
import scipy
from numpy.typing import NDArray

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching.blossoms import prove_matching, worth_of_a_pair
from inventory.compute.pairing.matching.halves import link_halves
from inventory.compute.pairing.matching.links import Links

# Up to so many links the blossom algorithm is quick.
DENSE = 10_000
# Most promising links of each part in the first sample, and added to the next.
NEAREST = 12
# Two or three prove enough.
MOST_SAMPLES = 20


def match_links(count: int, links: Links) -> Ints:
    """
    Find the most pairs, and of those the least total cost.

    Parameters
    ----------
    count : int
        Number of parts.
    links : Links
        Possible pairs.

    Returns
    -------
    (k,) ndarray of int64
        Positions of the chosen links, ascending.

    Examples
    --------
    >>> path = Links(
    ...     low=np.array([0, 1, 2]), high=np.array([1, 2, 3]), cost=np.array([5, 1, 5])
    ... )
    >>> match_links(4, path)
    array([0, 2])
    """
    ends = (links.low, links.high)
    graph = scipy.sparse.csr_array(
        (np.ones(links.low.size), ends), shape=(count, count)
    )
    _, component = scipy.sparse.csgraph.connected_components(graph, directed=False)
    order = np.argsort(component[links.low], kind="stable")
    bounds = np.flatnonzero(np.diff(component[links.low[order]])) + 1
    chosen = [
        which[_match_component(links.take(which))]
        for which in np.split(order, bounds)
        if which.size
    ]
    return np.sort(np.concatenate([np.zeros(0, np.int64), *chosen]))


def match_dense(count: int, links: Links) -> Ints:
    """
    Find the most pairs at least cost where links are many.

    Parameters
    ----------
    count : int
        Number of parts.
    links : Links
        Possible pairs, at least one.

    Returns
    -------
    (k,) ndarray of int64
        Positions of the chosen links, ascending.
    """
    saving = worth_of_a_pair(count, links)
    sample = _promising(count, links, saving)
    for _ in range(MOST_SAMPLES):
        which = np.flatnonzero(sample)
        proof = prove_matching(count, links.take(which), saving=saving)
        if proof is None:
            break
        shortfall = proof.shortfall(links)
        if not shortfall.any():
            return which[proof.chosen]
        sample |= _nearest(count, links, shortfall) & (shortfall < 0)
    return _blossom(count, links)


def _match_component(links: Links) -> Ints:
    parts, ends = np.unique(
        np.concatenate([links.low, links.high]), return_inverse=True
    )
    low, high = np.split(ends, 2)
    near = Links(low=low, high=high, cost=links.cost)
    if links.cost.size <= DENSE:
        return _blossom(parts.size, near)
    return match_dense(parts.size, near)


def _promising(count: int, links: Links, saving: int) -> NDArray[np.bool_]:
    # What a matching by halves is nearest to using, and what it uses.
    cost = links.cost - saving
    partner, price = link_halves(
        count,
        low=links.low,
        high=links.high,
        cost=cost,
        stay=np.zeros(count, np.int64),
    )
    used: NDArray[np.bool_] = (partner[links.low] == links.high) | (
        partner[links.high] == links.low
    )
    dear = 2 * cost - price[links.low] - price[links.high]
    return used | _nearest(count, links, dear)


def _nearest(count: int, links: Links, cost: Ints) -> NDArray[np.bool_]:
    # The cheapest few of each part, out of the cheapest of all.  Among equals a
    # scattered choice: the first few would have all the parts of one size want the
    # same few partners.
    near = np.zeros(cost.size, bool)
    ample = 4 * NEAREST * count
    if cost.size > ample:
        among = np.flatnonzero(cost <= np.partition(cost, ample)[ample])
    else:
        among = np.arange(cost.size)
    ends = np.concatenate([links.low[among], links.high[among]])
    scatter = np.arange(ends.size) * 2_654_435_761 % 2**31
    order = np.lexsort((scatter, np.tile(cost[among], 2), ends))
    start = np.searchsorted(ends[order], np.arange(count))
    rank = np.arange(ends.size) - start[ends[order]]
    near[among[order[rank < NEAREST] % among.size]] = True
    return near


def _blossom(count: int, links: Links) -> Ints:
    graph = rustworkx.PyGraph(multigraph=False)
    graph.add_nodes_from(range(count))
    worth = links.cost.max() - links.cost
    graph.add_edges_from(
        list(zip(links.low.tolist(), links.high.tolist(), worth.tolist(), strict=True))
    )
    matched = rustworkx.max_weight_matching(graph, max_cardinality=True, weight_fn=int)
    pairs = np.sort(np.array(list(matched)), axis=1)
    width = int(links.high.max()) + 1
    key = links.low * width + links.high
    return np.sort(np.searchsorted(key, pairs[:, 0] * width + pairs[:, 1]))
