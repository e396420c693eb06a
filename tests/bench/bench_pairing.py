"""
How long pairing takes, beside a sort, beside the blossom algorithm, and in all.

Run as ``python -m tests.bench.bench_pairing``.  Prints figures, asserts nothing but
that both answers are the same.
"""

import tracemalloc
from functools import partial
from typing import Any

import numpy as np
import rustworkx
from numpy.typing import NDArray

from inventory.compute.pairing import (
    match_motors,
    match_sets,
    pair_by_features,
    pair_by_size,
    pair_with_stagger,
)
from tests.bench.timing import best_of

Sizes = NDArray[np.int64]

MILLION = 1_000_000


def bags_of_a_million() -> dict[str, Sizes]:
    rng = np.random.default_rng(1)
    normal = rng.normal(18_000, 150, MILLION).round().astype(np.int64)
    return {
        "normal, 1 µm": normal,
        "normal, 10 µm": normal // 10 * 10,
        "even, 17-25 mm": rng.integers(17_000, 25_000, MILLION),
        "even, to a metre": rng.integers(1, 10**6, MILLION),
    }


def show_million() -> None:
    print("a million sizes, beside numpy.argsort (promised: 3 times)")
    for name, size in bags_of_a_million().items():
        for tolerance in (0, 50):
            sort, _ = best_of(9, partial(np.argsort, size))
            pair, _ = best_of(9, partial(pair_by_size, size, tolerance_um=tolerance))
            print(
                f"  {name:17} tolerance {tolerance:2}: {1000 * pair:6.1f} ms, "
                f"argsort {1000 * sort:6.1f} ms, {pair / sort:5.2f} times"
            )
    size = bags_of_a_million()["normal, 1 µm"]
    group = np.random.default_rng(2).integers(0, 6, MILLION)
    pair, _ = best_of(3, lambda: pair_by_size(size, tolerance_um=50, group=group))
    print(f"  in six groups: {1000 * pair:.1f} ms")
    tracemalloc.start()
    pair_by_size(size, tolerance_um=50)
    peak = tracemalloc.get_traced_memory()[1] / 2**20
    print(f"  memory beyond the sizes: {peak:.0f} MiB (promised: 400)")
    tracemalloc.stop()


def blossom(size: Sizes, tolerance: int) -> tuple[int, int]:
    """Pair the same bag as a graph; pairs and total difference."""
    order = np.sort(size)
    reach = np.searchsorted(order, order + tolerance, "right")
    graph: Any = rustworkx.PyGraph(multigraph=False)
    graph.add_nodes_from(order.tolist())
    graph.add_edges_from(
        [
            (one, other, tolerance + 1 - int(order[other] - order[one]))
            for one in range(order.size)
            for other in range(one + 1, int(reach[one]))
        ]
    )
    found = rustworkx.max_weight_matching(graph, max_cardinality=True, weight_fn=int)
    gaps = [abs(int(order[one] - order[other])) for one, other in found]
    return len(gaps), sum(gaps)


def show_blossom() -> None:
    print("3,000 sizes, beside the blossom algorithm (promised: 1,000 times)")
    size = np.random.default_rng(3).normal(18_000, 150, 3000).round().astype(np.int64)
    for tolerance in (5, 20, 50):
        pair, pairs = best_of(20, partial(pair_by_size, size, tolerance_um=tolerance))
        graph, optimum = best_of(1, partial(blossom, size, tolerance))
        assert (pairs.first.size, int(pairs.difference_um.sum())) == optimum
        print(
            f"  tolerance {tolerance:2}: {1000 * pair:.2f} ms against {graph:.2f} s, "
            f"{graph / pair:,.0f} times"
        )


def show_stagger() -> None:
    print("2,000 tyres with stagger (promised: 5 s)")
    rng = np.random.default_rng(4)
    normal = rng.normal(18_000, 150, 2000).round().astype(np.int64)
    even = rng.integers(17_000, 20_000, 2000)
    for name, size in (("normal", normal), ("even", even), ("10 µm", even // 10 * 10)):
        for stagger, tolerance in ((100, 20), (100, 50), (30, 50), (200, 100)):
            took, pairs = best_of(
                1,
                partial(
                    pair_with_stagger, size, stagger_um=stagger, tolerance_um=tolerance
                ),
            )
            print(
                f"  {name:6} stagger {stagger:3} tolerance {tolerance:3}: "
                f"{took:5.2f} s, {pairs.first.size} pairs"
            )


def show_features() -> None:
    print("2,000 tyres by several measures (promised: 5 s)")
    rng = np.random.default_rng(5)
    table = np.stack(
        [
            rng.normal(18.0, 0.1, 2000).round(2),
            rng.normal(11.0, 0.1, 2000).round(2),
            rng.normal(30.0, 2.0, 2000).round(),
            np.abs(rng.normal(0.0, 0.02, 2000)).round(2),
        ],
        axis=1,
    )
    bounds = [0.05, 0.1, 2.0, 0.02]
    for measures in (2, 3, 4):
        took, pairs = best_of(
            1,
            partial(
                pair_by_features,
                table[:, :measures],
                tolerances=bounds[:measures],
                weights=[1] * measures,
            ),
        )
        print(f"  {measures} measures: {took:5.2f} s, {pairs.first.size} pairs")


def show_sets() -> None:
    print("sets of four")
    rng = np.random.default_rng(6)
    size = rng.normal(18_000, 150, 5000).round().astype(np.int64)
    took, sets = best_of(3, lambda: match_sets(size, set_size=4, tolerance_um=30))
    print(f"  5,000 tyres: {1000 * took:.1f} ms, {len(sets.members)} sets")
    speed, ohm = rng.normal(20_000, 300, 400), rng.normal(2.1, 0.05, 400)
    took, motors = best_of(
        3,
        lambda: match_motors(
            speed, ohm, set_size=4, tolerance_rpm=200, tolerance_ohm=0.05
        ),
    )
    print(
        f"  400 motors: {1000 * took:.1f} ms, {len(motors.members)} sets of at most "
        f"{motors.set_limit}"
    )


if __name__ == "__main__":
    show_million()
    show_blossom()
    show_stagger()
    show_features()
    show_sets()
