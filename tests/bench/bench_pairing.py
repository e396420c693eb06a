"""
How long pairing takes, beside a sort, beside the blossom algorithm, and in all.

Run as ``python -m tests.bench.bench_pairing``.  Prints figures, asserts nothing but
that both answers are the same.
"""

import sys
import tracemalloc
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import rustworkx
from numpy.typing import NDArray

from inventory.compute.motors import match_motors
from inventory.compute.pairing import (
    FeatureMatching,
    Matching,
    match_sets,
    pair_by_features,
    pair_by_size,
    pair_with_stagger,
)
from tests.bench.figures import Figure
from tests.bench.timing import best_of, least_work

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


def beside_argsort(name: str, size: Sizes, tolerance: int) -> float:
    """Print and give how many times longer than a sort of the default kind it takes."""
    sort, _ = least_work(15, partial(np.argsort, size))
    pair, _ = least_work(15, partial(pair_by_size, size, tolerance_um=tolerance))
    print(
        f"  {name:17} tolerance {tolerance:2}: {1000 * pair:6.1f} ms, "
        f"argsort {1000 * sort:6.1f} ms, {pair / sort:5.2f} times"
    )
    return pair / sort


def show_million() -> None:
    print("a million sizes, beside numpy.argsort of the same (promised: 1.5 times)")
    ratios = [
        beside_argsort(name, size, tolerance)
        for name, size in bags_of_a_million().items()
        for tolerance in (0, 50)
    ]
    Figure(
        what="pairing a million tyres, four bags, two tolerances",
        promised="≤ 1.5 ×",
        measured=f"{min(ratios):.1f} to {max(ratios):.1f} ×",
        beside="one `numpy.argsort`",
    ).say()
    print("the same in order of size, beside numpy.argsort of that (promised: 3 times)")
    ratios = [
        beside_argsort(name, np.sort(size)[::step].copy(), tolerance)
        for name, size in bags_of_a_million().items()
        for tolerance in (0, 50)
        for step in (1, -1)
    ]
    Figure(
        what="the same in order of size, rising and falling",
        promised="≤ 3 ×",
        measured=f"{min(ratios):.1f} to {max(ratios):.1f} ×",
        beside="one `numpy.argsort` of the bag in order",
    ).say()
    size = bags_of_a_million()["normal, 1 µm"]
    group = np.random.default_rng(2).integers(0, 6, MILLION)
    pair, _ = best_of(3, lambda: pair_by_size(size, tolerance_um=50, group=group))
    print(f"  in six groups: {1000 * pair:.1f} ms")
    tracemalloc.start()
    pair_by_size(size, tolerance_um=50)
    peak = tracemalloc.get_traced_memory()[1] / 2**20
    print(f"  memory beyond the sizes: {peak:.0f} MiB (promised: 400)")
    tracemalloc.stop()


def show_ten_million() -> None:
    size = np.random.default_rng(1).normal(18_000, 150, 10 * MILLION)
    whole = size.round().astype(np.int64)
    tracemalloc.start()
    pair_by_size(whole, tolerance_um=50)
    peak = tracemalloc.get_traced_memory()[1] / 2**30
    tracemalloc.stop()
    Figure(
        what="pairing ten million tyres: memory beyond the sizes",
        promised="≤ 1.2 GiB",
        measured=f"{peak:.2f} GiB",
        beside=f"{whole.nbytes / 2**30:.2f} GiB of sizes",
    ).say()


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


def show_crowds(*, short: bool) -> None:
    print("20,000 tyres, close together (promised: 60 s, or how near the best)")
    rng = np.random.default_rng(4)
    size = rng.normal(18_000, 150, 20_000).round().astype(np.int64)
    table = np.stack(
        [
            rng.normal(18.0, 0.1, 20_000).round(2),
            rng.normal(11.0, 0.1, 20_000).round(2),
            rng.normal(30.0, 2.0, 20_000).round(),
        ],
        axis=1,
    )
    bounds = [0.05, 0.1, 2.0]
    tasks: dict[str, Callable[[], Matching | FeatureMatching]] = {
        "with stagger": partial(
            pair_with_stagger, size, stagger_um=100, tolerance_um=50
        ),
        "by two measures": partial(
            pair_by_features, table[:, :2], tolerances=bounds[:2], weights=[1, 1]
        ),
        "by three measures": partial(
            pair_by_features, table, tolerances=bounds, weights=[1, 1, 1]
        ),
    }
    for name, task in list(tasks.items())[: 1 if short else None]:
        took, pairs = least_work(1, task)
        Figure(
            what=f"20,000 tyres close together, {name}",
            promised="the best, or how near",
            measured=f"{took:.0f} s, {pairs.first.size:,} pairs",
            beside=f"at most {pairs.more_pairs} more, dearer by {pairs.dearer_by:.3g}",
        ).say()


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


def main(words: list[str]) -> None:
    show_million()
    show_ten_million()
    show_crowds(short="--short" in words)
    if "--short" in words:
        return
    show_blossom()
    show_stagger()
    show_features()
    show_sets()


if __name__ == "__main__":
    main(sys.argv)
