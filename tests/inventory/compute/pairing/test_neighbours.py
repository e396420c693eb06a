"""Pairs by size, against networkx, every choice, and measured parts."""

import csv
import json
from itertools import combinations
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.pairing import Matching, pair_by_size, runs
from inventory.compute.pairing.neighbours import sort_places
from inventory.compute.pairing.runs import stay_over
from tests.inventory.compute.pairing.matching_oracles import (
    best_by_networkx,
    every_choice,
)

DATA = Path(__file__).parents[3] / "references" / "data"

# Few distinct sizes, so that ties are common; the wide ones for the gaps.
sizes = st.integers(1, 12) | st.integers(1, 60) | st.integers(17_900, 18_300)
bags = st.lists(st.tuples(sizes, st.sampled_from("abc")), max_size=14)
tolerances = st.just(0) | st.integers(0, 6) | st.integers(0, 100)


def columns(bag: list[tuple[int, str]]) -> tuple[list[int], list[str]]:
    return [size for size, _ in bag], [group for _, group in bag]


def check_is_matching(pairs: Matching, size: list[int]) -> None:
    used = [*pairs.first, *pairs.second, *pairs.leftover]
    assert sorted(used) == list(range(len(size)))
    measured = np.array(size, dtype=np.int64)
    difference = measured[pairs.second] - measured[pairs.first]
    assert pairs.difference_um.tolist() == difference.tolist()
    assert np.all(difference >= 0)
    assert np.all((difference > 0) | (pairs.first < pairs.second))
    keys = list(zip(difference, measured[pairs.first], strict=True))
    assert keys == sorted(keys)
    assert pairs.leftover.tolist() == sorted(pairs.leftover)


@settings(max_examples=500)
@given(
    bag=bags,
    tolerance=tolerances,
    few=st.sampled_from([0, 1, runs.FEW]),
)
def test_pairs_of_any_bag_are_the_best(
    bag: list[tuple[int, str]], tolerance: int, few: int
) -> None:
    size, group = columns(bag)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(runs, "FEW", few)
        pairs = pair_by_size(size, tolerance_um=tolerance, group=group)
    check_is_matching(pairs, size)
    assert all(
        group[one] == group[two]
        for one, two in zip(pairs.first, pairs.second, strict=True)
    )
    assert np.all(pairs.difference_um <= tolerance)

    def gap(one: int, two: int) -> int | None:
        apart = abs(size[one] - size[two])
        return apart if group[one] == group[two] and apart <= tolerance else None

    found = pairs.first.size, pairs.difference_um.sum()
    assert found == best_by_networkx(len(size), gap)


@settings(max_examples=300)
@given(
    size=st.lists(sizes, max_size=7),
    tolerance=tolerances,
    few=st.sampled_from([0, runs.FEW]),
    order=st.sampled_from([0, 1, -1]),
)
def test_of_equal_choices_the_largest_and_the_lowest_positions_stay_over(
    size: list[int], tolerance: int, few: int, order: int
) -> None:
    if order != 0:
        size.sort(reverse=order < 0)
    wanted = []
    for choice in every_choice(range(len(size)), 2):
        gaps = [abs(size[one] - size[other]) for one, other in choice]
        if max(gaps, default=0) <= tolerance:
            paired = {part for pair in choice for part in pair}
            over = sorted((-size[p], p) for p in range(len(size)) if p not in paired)
            wanted.append((len(over), sum(gaps), over))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(runs, "FEW", few)
        pairs = pair_by_size(size, tolerance_um=tolerance)
    check_is_matching(pairs, size)
    over = sorted((-size[part], part) for part in pairs.leftover.tolist())
    assert (len(over), int(pairs.difference_um.sum()), over) == min(wanted)


@settings(max_examples=100)
@given(bag=bags, tolerance=tolerances, shuffled=st.randoms())
def test_order_of_input_changes_positions_only(
    bag: list[tuple[int, str]], tolerance: int, shuffled: Random
) -> None:
    size, group = columns(bag)
    other_bag = list(bag)
    shuffled.shuffle(other_bag)
    other_size, other_group = columns(other_bag)
    pairs = pair_by_size(size, tolerance_um=tolerance, group=group)
    others = pair_by_size(other_size, tolerance_um=tolerance, group=other_group)
    assert pairs.difference_um.tolist() == others.difference_um.tolist()
    assert sorted(size[part] for part in pairs.leftover) == sorted(
        other_size[part] for part in others.leftover
    )


@pytest.mark.parametrize("group", [None, []])
def test_empty_bag_has_no_pairs(group: list[str] | None) -> None:
    check_is_matching(pair_by_size([], tolerance_um=50, group=group), [])


def test_one_tyre_stays_over() -> None:
    assert pair_by_size([20000], tolerance_um=50).leftover.tolist() == [0]


@pytest.mark.parametrize(("tolerance", "count"), [(49, 0), (50, 1), (51, 1)])
def test_difference_equal_to_the_tolerance_is_inside(
    tolerance: int, count: int
) -> None:
    assert pair_by_size([19050, 19000], tolerance_um=tolerance).first.size == count


@pytest.mark.parametrize(
    ("values", "tolerance", "pair_count", "total"),
    [
        ([0, 4, 5, 9], 4, 2, 8),  # C7-13
        ([10, 12, 13, 15, 16, 18], 2, 3, 6),  # C7-14
        ([1975, 1980, 1981, 1986, 1990, 1991], 5, 3, 11),  # C7-15
    ],
)
def test_greedy_trap_is_seen_through(
    values: list[int], tolerance: int, pair_count: int, total: int
) -> None:
    size = [value + 1 for value in values]  # a size is positive
    pairs = pair_by_size(size, tolerance_um=tolerance)
    assert (pairs.first.size, pairs.difference_um.sum()) == (pair_count, total)
    assert greedy_pair_count(size, tolerance) < pair_count


def greedy_pair_count(size: list[int], tolerance: int) -> int:
    """Closest first, as a spreadsheet would: the trap must be one."""
    free, count = set(range(len(size))), 0
    while True:
        gaps = [
            (abs(size[one] - size[other]), one, other)
            for one, other in combinations(sorted(free), 2)
        ]
        gap, one, other = min(gaps, default=(tolerance + 1, 0, 0))
        if gap > tolerance:
            return count
        free -= {one, other}
        count += 1


def test_published_traps_are_seen_through() -> None:
    # matching_instances.json, built there and checked by force and networkx.
    instances = json.loads((DATA / "matching_instances.json").read_text("utf-8"))
    traps = instances["diameter_pairing_traps"]
    assert len(traps) == 5
    for trap in traps:
        size = [value + 1 for value in trap["values"]]
        pairs = pair_by_size(size, tolerance_um=trap["tolerance"])
        assert pairs.first.size == trap["max_pairs"]
        assert pairs.difference_um.sum() == trap["min_total_gap"]
        greedy = greedy_pair_count(size, trap["tolerance"])
        assert greedy == trap["closest_first_greedy_pairs"]


def thousandths(name: str, column: str) -> list[int]:
    lines = (DATA / name).read_text("utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [round(float(row[column]) * 1000) for row in rows]


def test_measured_gears_and_rings_pair_as_published() -> None:
    # C6-20: NIST GEAR.DAT and Montgomery's piston rings, in thousandths.
    measured = {
        "NIST GEAR.DAT": thousandths("nist_gear_dat_100.csv", "diameter"),
        "Montgomery rings": thousandths(
            "montgomery_piston_rings_200.csv", "diameter_mm"
        ),
    }
    lines = (DATA / "pairing_reference.csv").read_text("utf-8").splitlines()[1:]
    rows = list(csv.DictReader(lines))
    assert len(rows) == 14
    for row in rows:
        size = measured[row["dataset"]]
        pairs = pair_by_size(size, tolerance_um=int(row["tolerance_x1000"]))
        assert len(size) == int(row["n"])
        assert pairs.first.size == int(row["max_pairs"])
        assert pairs.difference_um.sum() == int(row["min_total_gap_x1000"])
        assert pairs.leftover.size == int(row["unpaired"])


def test_large_bag_is_as_good_as_networkx_makes_it() -> None:
    size = np.random.default_rng(7).normal(18000, 150, 150).round().astype(int)

    def gap(one: int, two: int) -> int | None:
        apart = abs(int(size[one]) - int(size[two]))
        return apart if apart <= 20 else None

    pairs = pair_by_size(size, tolerance_um=20)
    found = pairs.first.size, pairs.difference_um.sum()
    assert found == best_by_networkx(150, gap)


def test_sizes_far_apart_are_sorted_like_any() -> None:
    # Too wide to pack place and position into one number.
    rng = np.random.default_rng(3)
    place = rng.integers(0, 2**60, 500)
    place[::7] = place[0]
    order, ordered = sort_places(place)
    assert order.tolist() == np.argsort(place, kind="stable").tolist()
    assert ordered.tolist() == sorted(place.tolist())


@pytest.mark.parametrize("few", [0, runs.FEW])
def test_runs_too_far_apart_to_be_packed_are_looked_through_one_by_one(
    few: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # In each run of three the gap of 1 is kept rather than that of 2.
    monkeypatch.setattr(runs, "FEW", few)
    place = np.array([0, 1, 3, 2**61, 2**61 + 2, 2**61 + 3])
    over = stay_over(place, np.diff(place), tolerance=2)
    assert sorted(over.tolist()) == [2, 3]


def test_large_bag_in_order_is_paired_like_one_in_none() -> None:
    # Half of all gaps are longer than the tolerance, and runs are many.
    rng = np.random.default_rng(5)
    size = np.sort(rng.integers(1, 40_000, 5000))
    plain = pair_by_size(size, tolerance_um=6)
    check_is_matching(plain, size.tolist())
    mixed = rng.permutation(size.size)
    for way in (np.arange(size.size)[::-1], mixed):
        pairs = pair_by_size(size[way], tolerance_um=6)
        check_is_matching(pairs, size[way].tolist())
        assert pairs.difference_um.tolist() == plain.difference_um.tolist()
        for one, other in ((pairs.first, plain.first), (pairs.second, plain.second)):
            assert size[way][one].tolist() == size[other].tolist()


def test_many_groups_of_a_kilometre_stay_apart() -> None:
    count = 3000
    size = np.where(np.arange(count) % 2 == 0, 1, 10**9)
    pairs = pair_by_size(size, tolerance_um=10**9, group=range(count))
    assert pairs.first.size == 0
    halves = pair_by_size(size, tolerance_um=10**9, group=np.arange(count) // 2)
    assert halves.first.size == count // 2
