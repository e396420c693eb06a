"""Slow, independent ways to the best matching: networkx, and every way there is."""

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import combinations
from typing import Any

import networkx as nx

Cost = Callable[[int, int], float | None]


def best_by_networkx(count: int, cost: Cost) -> tuple[int, float]:
    """Give most pairs and the least total cost; a cost of None is no possible pair."""
    graph: Any = nx.Graph()
    edges = {
        pair: value
        for pair in combinations(range(count), 2)
        if (value := cost(*pair)) is not None
    }
    dear = 1 + 2 * max(edges.values(), default=0)
    for pair, value in edges.items():
        graph.add_edge(*pair, weight=dear - value)
    found = nx.max_weight_matching(graph, maxcardinality=True)
    chosen = [(min(pair), max(pair)) for pair in found]
    return len(chosen), sum(edges[pair] for pair in chosen)


def every_choice(items: Sequence[int], size: int) -> Iterator[list[tuple[int, ...]]]:
    """Every way to take disjoint sets of a size, none and some left over included."""
    yield []
    for start, head in enumerate(items):
        rest = items[start + 1 :]
        for others in combinations(rest, size - 1):
            left = [item for item in rest if item not in others]
            for choice in every_choice(left, size):
                yield [(head, *others), *choice]


def best_by_force(
    count: int, size: int, cost: Callable[[tuple[int, ...]], float | None]
) -> tuple[int, float]:
    """Give most sets and the least total cost: the first in no set, or in any."""
    possible = {members: cost(members) for members in combinations(range(count), size)}

    @cache
    def best(items: tuple[int, ...]) -> tuple[int, float]:
        if len(items) < size:
            return 0, 0.0
        found = [best(items[1:])]
        for others in combinations(items[1:], size - 1):
            paid = possible[items[0], *others]
            if paid is not None:
                fewer, total = best(tuple(i for i in items[1:] if i not in others))
                found.append((fewer - 1, total + paid))
        return min(found)

    fewer, total = best(tuple(range(count)))
    return -fewer, total
