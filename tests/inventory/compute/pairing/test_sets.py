"""Sets of a size, against every choice there is."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.pairing import (
    NotALimitError,
    NotASetSizeError,
    match_sets,
    pair_by_size,
)
from tests.inventory.compute.pairing.matching_oracles import best_by_force

sizes = st.integers(1, 8) | st.integers(1, 40)
bags = st.lists(st.tuples(sizes, st.sampled_from("ab")), max_size=8)
tolerances = st.just(0) | st.integers(0, 5) | st.integers(0, 40)


@settings(max_examples=500)
@given(bag=bags, set_size=st.integers(2, 4), tolerance=tolerances)
def test_sets_of_any_bag_are_the_best(
    bag: list[tuple[int, str]], set_size: int, tolerance: int
) -> None:
    size = [one for one, _ in bag]
    group = [label for _, label in bag]

    def spread(members: tuple[int, ...]) -> int | None:
        apart = max(size[p] for p in members) - min(size[p] for p in members)
        alike = len({group[p] for p in members}) == 1
        return apart if alike and apart <= tolerance else None

    sets = match_sets(size, set_size=set_size, tolerance_um=tolerance, group=group)
    assert sorted([*sets.members.ravel(), *sets.leftover]) == list(range(len(size)))
    ranges = [spread(tuple(row)) for row in sets.members.tolist()]
    assert sets.range_um.tolist() == ranges
    assert None not in ranges
    assert ranges == sorted(ranges, key=lambda one: one or 0)
    for row in sets.members.tolist():
        assert row == sorted(row, key=lambda part: (size[part], part))
    found = len(sets.members), sets.range_um.sum()
    assert found == best_by_force(len(size), set_size, spread)


@settings(max_examples=200)
@given(
    size=st.lists(sizes | st.integers(17_900, 18_300), max_size=60),
    tolerance=tolerances,
)
def test_sets_of_two_are_pairs_by_size(size: list[int], tolerance: int) -> None:
    pairs = pair_by_size(size, tolerance_um=tolerance)
    sets = match_sets(size, set_size=2, tolerance_um=tolerance)
    assert sets.range_um.tolist() == pairs.difference_um.tolist()
    assert sets.leftover.tolist() == pairs.leftover.tolist()


def test_of_equal_choices_the_largest_and_the_lowest_positions_stay_over() -> None:
    # 7 7 8 9 and 7 8 9 9 both range 2: the second would lose a small one.
    sets = match_sets([9, 9, 8, 7, 7], set_size=4, tolerance_um=2)
    assert sets.members.tolist() == [[3, 4, 2, 1]]
    assert sets.leftover.tolist() == [0]


@pytest.mark.parametrize("count", [0, 1, 3])
def test_too_few_for_a_set_all_stay_over(count: int) -> None:
    sets = match_sets([18000] * count, set_size=4, tolerance_um=50)
    assert sets.members.shape == (0, 4)
    assert sets.leftover.tolist() == list(range(count))


@pytest.mark.parametrize(("tolerance", "count"), [(49, 0), (50, 1)])
def test_range_equal_to_the_tolerance_is_inside(tolerance: int, count: int) -> None:
    sets = match_sets([18000, 18050, 18020, 18049], set_size=4, tolerance_um=tolerance)
    assert len(sets.members) == count


def test_a_large_bag_keeps_its_promises() -> None:
    size = np.random.default_rng(5).integers(17_000, 19_000, 5000)
    sets = match_sets(size, set_size=4, tolerance_um=30)
    assert sets.members.size + sets.leftover.size == 5000
    assert np.all(np.ptp(size[sets.members], axis=1) == sets.range_um)
    assert sets.range_um.max() <= 30


@pytest.mark.parametrize(
    ("set_size", "error"),
    [
        (1, NotASetSizeError),
        (0, NotASetSizeError),
        (-1, NotALimitError),
        (2.5, NotALimitError),
    ],
)
def test_set_of_fewer_than_two_is_refused(
    set_size: Any, error: type[Exception]
) -> None:
    with pytest.raises(error):
        match_sets([1, 2, 3], set_size=set_size, tolerance_um=1)
