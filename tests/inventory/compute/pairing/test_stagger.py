"""Pairs with stagger, against networkx, every choice, and pairs by size."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.pairing import (
    Matching,
    pair_by_size,
    pair_with_stagger,
)
from tests.inventory.compute.pairing.matching_oracles import best_by_networkx

sizes = st.integers(1, 15) | st.integers(1, 60)
bags = st.lists(st.tuples(sizes, st.sampled_from("abc")), max_size=13)
limits = st.integers(0, 8) | st.integers(0, 40)


def departure(pairs: Matching, stagger: int) -> int:
    return int(np.abs(pairs.difference_um - stagger).sum())


@settings(max_examples=500)
@given(bag=bags, stagger=limits, tolerance=limits)
def test_pairs_of_any_bag_are_the_best(
    bag: list[tuple[int, str]], stagger: int, tolerance: int
) -> None:
    size = [one for one, _ in bag]
    group = [label for _, label in bag]
    pairs = pair_with_stagger(
        size, stagger_um=stagger, tolerance_um=tolerance, group=group
    )
    used = [*pairs.first, *pairs.second, *pairs.leftover]
    assert sorted(used) == list(range(len(size)))
    measured = np.array(size, dtype=np.int64)
    apart = measured[pairs.second] - measured[pairs.first]
    assert pairs.difference_um.tolist() == apart.tolist() == sorted(apart)
    assert np.all(apart >= 0)
    assert np.all(np.abs(apart - stagger) <= tolerance)

    def cost(one: int, two: int) -> int | None:
        off = abs(abs(size[one] - size[two]) - stagger)
        return off if group[one] == group[two] and off <= tolerance else None

    found = pairs.first.size, departure(pairs, stagger)
    assert found == best_by_networkx(len(size), cost)


@given(bag=bags, tolerance=limits)
def test_no_stagger_is_pairing_by_size(
    bag: list[tuple[int, str]], tolerance: int
) -> None:
    size = [one for one, _ in bag]
    plain = pair_by_size(size, tolerance_um=tolerance)
    pairs = pair_with_stagger(size, stagger_um=0, tolerance_um=tolerance)
    assert pairs.first.tolist() == plain.first.tolist()
    assert pairs.second.tolist() == plain.second.tolist()


@pytest.mark.parametrize(("larger", "count"), [(79, 0), (80, 1), (120, 1), (121, 0)])
def test_departure_equal_to_the_tolerance_is_inside(larger: int, count: int) -> None:
    size = [20000 + larger, 20000]
    pairs = pair_with_stagger(size, stagger_um=100, tolerance_um=20)
    assert pairs.first.size == count
    assert pairs.first.tolist() == [1] * count


def test_nearest_first_would_lose_a_pair() -> None:
    # 200 and 300 are exactly 100 apart; taken first, 110 and 390 stay over.
    pairs = pair_with_stagger([110, 200, 300, 390], stagger_um=100, tolerance_um=10)
    assert pairs.difference_um.tolist() == [90, 90]
