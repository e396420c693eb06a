"""Bags with too many possible pairs to hold: the best, or how near it is."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.arrays import Ints
from inventory.compute.pairing import (
    TooManyLinksError,
    pair_by_features,
    pair_with_stagger,
)
from inventory.compute.pairing.matching import (
    Links,
    Matched,
    Windows,
    crowds,
    graph_matching,
    match_windows,
    windows,
)
from tests.inventory.compute.pairing.matching_oracles import best_by_networkx

sizes = st.integers(1, 15) | st.integers(1, 60)
bags = st.lists(st.tuples(sizes, st.sampled_from("ab")), min_size=1, max_size=13)
limits = st.integers(1, 8) | st.integers(1, 40)


def as_a_crowd(patch: pytest.MonkeyPatch, block: int = 20) -> None:
    """Take any bag for one with too many possible pairs to hold."""
    patch.setattr(crowds, "MOST_LINKS", 0)
    patch.setattr(windows, "BLOCK", block)


@settings(max_examples=120)
@given(bag=bags, stagger=limits, tolerance=limits, block=st.integers(1, 40))
def test_crowd_with_stagger_is_paired_at_best(
    bag: list[tuple[int, str]], stagger: int, tolerance: int, block: int
) -> None:
    size, group = [one for one, _ in bag], [label for _, label in bag]
    with pytest.MonkeyPatch.context() as patch:
        as_a_crowd(patch, block)
        pairs = pair_with_stagger(
            size, stagger_um=stagger, tolerance_um=tolerance, group=group
        )

    def cost(one: int, two: int) -> int | None:
        off = abs(abs(size[one] - size[two]) - stagger)
        return off if group[one] == group[two] and off <= tolerance else None

    used = [*pairs.first, *pairs.second, *pairs.leftover]
    assert sorted(used) == list(range(len(size)))
    assert (pairs.more_pairs, pairs.dearer_by) == (0, 0)
    departure = int(np.abs(pairs.difference_um - stagger).sum())
    found = pairs.first.size, departure
    assert found == best_by_networkx(len(size), cost)


@settings(max_examples=120)
@given(
    bag=bags,
    stagger=limits,
    tolerance=limits,
    most=st.fixed_dictionaries(
        {
            "MOST_LOOKS": st.integers(1, 2),
            "MOST_PROOFS": st.integers(1, 2),
            "MOST_STEPS": st.integers(0, 3),
            "NEAR": st.sampled_from([2, 16]),
            "NEAREST": st.sampled_from([1, 8]),
        }
    ),
)
def test_given_up_early_the_best_is_within_what_is_told(
    bag: list[tuple[int, str]], stagger: int, tolerance: int, most: dict[str, int]
) -> None:
    size = np.array([one for one, _ in bag])
    with pytest.MonkeyPatch.context() as patch:
        as_a_crowd(patch)
        for name, limit in most.items():
            patch.setattr(crowds, name, limit)
        pairs = pair_with_stagger(size, stagger_um=stagger, tolerance_um=tolerance)

    def cost(one: int, two: int) -> int | None:
        off = abs(abs(int(size[one]) - int(size[two])) - stagger)
        return off if off <= tolerance else None

    apart = size[pairs.second] - size[pairs.first]
    assert np.all(np.abs(apart - stagger) <= tolerance)
    count, least = best_by_networkx(size.size, cost)
    assert 0 <= count - pairs.first.size <= pairs.more_pairs
    if count == pairs.first.size:
        total = int(np.abs(apart - stagger).sum())
        assert least <= total <= least + pairs.dearer_by


@settings(max_examples=100)
@given(
    bag=st.lists(st.tuples(st.integers(0, 9), st.integers(28, 32)), max_size=13),
    weights=st.tuples(st.sampled_from([0, 1, 2.5]), st.sampled_from([1, 0.3])),
)
def test_crowd_of_several_measures_is_paired_at_best(
    bag: list[tuple[int, int]], weights: tuple[float, float]
) -> None:
    table = np.array(bag, dtype=float).reshape(-1, 2) / (100, 1)
    limit = (0.03, 2.0)
    with pytest.MonkeyPatch.context() as patch:
        as_a_crowd(patch)
        pairs = pair_by_features(table, tolerances=limit, weights=weights)

    def cost(one: int, two: int) -> float | None:
        parts = [float(abs(table[one, k] - table[two, k])) / limit[k] for k in (0, 1)]
        if max(parts) > 1 + 1e-9:
            return None
        return sum(part * weight for part, weight in zip(parts, weights, strict=True))

    count, total = best_by_networkx(len(bag), cost)
    assert pairs.first.size == count
    assert pairs.cost.sum() == pytest.approx(total, abs=1e-6)
    assert (pairs.more_pairs, pairs.dearer_by) == (0, 0)


@pytest.mark.parametrize("count", [400, 401])
def test_large_crowd_is_as_good_as_rustworkx_makes_it(
    count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # In a plane half links run round many odd sets; one tyre is beyond all others.
    rng = np.random.default_rng(count)
    table = rng.normal((18, 11), (0.1, 0.1), (count, 2)).round(2)
    table[0] = (17, 12)
    asked = {"tolerances": (0.05, 0.1), "weights": (1, 1)}
    monkeypatch.setattr(graph_matching, "DENSE", 10**9)
    whole = pair_by_features(table, **asked)  # by rustworkx
    monkeypatch.setattr(graph_matching, "_blossom", None)
    as_a_crowd(monkeypatch, 3000)
    pairs = pair_by_features(table, **asked)
    assert pairs.first.size == whole.first.size
    assert pairs.cost.sum() == pytest.approx(whole.cost.sum(), abs=1e-6)
    assert (pairs.more_pairs, pairs.dearer_by) == (0, 0)
    assert 0 in pairs.leftover


def test_four_million_possible_pairs_are_proven_the_best() -> None:
    # Of blocks of twenty each of the first ten has its partner ten further on.
    size = np.arange(20_000, 23_000)
    pairs = pair_with_stagger(size, stagger_um=10, tolerance_um=3000)
    assert pairs.first.size == 1500
    assert set(pairs.difference_um.tolist()) == {10}
    assert (pairs.more_pairs, pairs.dearer_by) == (0, 0)


@pytest.mark.parametrize(("count", "tolerance"), [(30_000, 30_000), (60_000, 50)])
def test_so_many_possible_pairs_are_refused(count: int, tolerance: int) -> None:
    size = np.arange(20_000, 20_000 + count)
    with pytest.raises(TooManyLinksError, match="pairs are possible"):
        pair_with_stagger(size, stagger_um=10, tolerance_um=tolerance)


def every(low: Ints, high: Ints) -> Links:
    return Links(low=low, high=high, cost=high - low)


def ends(links: Links) -> list[tuple[int, int]]:
    return list(zip(links.low.tolist(), links.high.tolist(), strict=True))


@given(
    stop=st.lists(st.integers(0, 12), min_size=1, max_size=12),
    size=st.integers(1, 30),
)
def test_blocks_and_stretches_hold_every_candidate_once(
    stop: list[int], size: int
) -> None:
    count = len(stop)
    row = Windows(start=np.zeros(count, int), stop=np.minimum(stop, count), weigh=every)
    wanted = [(one, two) for one in range(count) for two in range(one + 1, stop[one])]
    wanted = [pair for pair in wanted if pair[1] < count]
    blocks = list(row.blocks(size))
    assert [pair for block in blocks for pair in ends(block)] == wanted
    assert all(len(ends(block)) <= max(size, row.width.max()) for block in blocks)
    stretches = list(row.stretches())
    found = [
        (one + offset, two + offset)
        for offset, stretch in stretches
        for block in stretch.blocks()
        for one, two in ends(block)
    ]
    assert found == wanted
    offsets = [offset for offset, _ in stretches] + [count]
    lengths = [stretch.count for _, stretch in stretches]
    assert [after - before for before, after in pairwise(offsets)] == lengths
    # None can be cut further.
    for _, stretch in stretches:
        pairs = {pair for block in stretch.blocks() for pair in ends(block)}
        for cut in range(1, stretch.count):
            assert any(one < cut <= two for one, two in pairs)


def test_no_candidate_that_is_possible_leaves_all_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    as_a_crowd(monkeypatch)

    def none(low: Ints, _: Ints) -> Links:
        return every(low[:0], low[:0])

    row = Windows(start=np.zeros(5, int), stop=np.full(5, 5), weigh=none)
    found: Matched = match_windows(row)
    assert found.low.size == found.more_pairs == found.dearer_by == 0
