"""The truing plan, against every choice there is."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.pairing import NotARowError, NotASizeError, plan_truing
from tests.inventory.compute.pairing.matching_oracles import (
    best_by_force,
    best_by_networkx,
)

sizes = st.integers(1, 12) | st.integers(1, 60)
limits = st.integers(0, 6) | st.integers(0, 40)


@settings(max_examples=500)
@given(
    bag=st.lists(st.tuples(sizes, st.sampled_from("ab")), max_size=12),
    max_removal=limits,
    floor=limits,
    clean_up=st.just(0) | st.integers(0, 5),
)
def test_plan_of_any_bag_is_the_best(
    bag: list[tuple[int, str]], max_removal: int, floor: int, clean_up: int
) -> None:
    size = [one for one, _ in bag]
    group = [label for _, label in bag]

    def rubber(one: int, two: int) -> int | None:
        # From the text: both cut to the smaller less the clean-up.
        target = min(size[one], size[two]) - clean_up
        losses = [size[one] - target, size[two] - target]
        possible = target >= floor and max(losses) <= max_removal
        return sum(losses) if possible and group[one] == group[two] else None

    plan = plan_truing(
        size,
        max_removal_um=max_removal,
        floor_um=floor,
        clean_up_um=clean_up,
        group=group,
    )
    assert sorted([*plan.keep, *plan.grind, *plan.leftover]) == list(range(len(size)))
    measured = np.array(size, dtype=np.int64)
    assert np.all(measured[plan.keep] <= measured[plan.grind])
    assert plan.target_um.tolist() == (measured[plan.keep] - clean_up).tolist()
    assert plan.removal_um.tolist() == sorted(measured[plan.grind] - plan.target_um)
    costs = [rubber(*pair) for pair in zip(plan.keep, plan.grind, strict=True)]
    total = float(sum(cost for cost in costs if cost is not None))
    found = len(costs), total
    assert None not in costs
    assert found == best_by_networkx(len(size), rubber)
    if len(size) <= 8:
        assert found == best_by_force(len(size), 2, lambda pair: rubber(*pair))


@pytest.mark.parametrize(
    ("max_removal", "floor", "clean_up", "count"),
    [
        (400, 18000, 0, 1),
        (399, 18000, 0, 0),
        (400, 18001, 0, 0),
        (450, 17950, 50, 1),
        (449, 17950, 50, 0),
        (450, 17951, 50, 0),
        (10, 0, 11, 0),
    ],
)
def test_limits_are_themselves_allowed(
    max_removal: int, floor: int, clean_up: int, count: int
) -> None:
    plan = plan_truing(
        [18400, 18000], max_removal_um=max_removal, floor_um=floor, clean_up_um=clean_up
    )
    assert plan.keep.tolist() == [1] * count
    assert plan.grind.tolist() == [0] * count
    assert plan.removal_um.tolist() == [400 + clean_up] * count


@pytest.mark.parametrize("size", [[], [18000]])
def test_none_and_one_make_no_plan(size: list[int]) -> None:
    plan = plan_truing(size, max_removal_um=500, floor_um=17000)
    assert plan.keep.size == 0
    assert plan.leftover.tolist() == list(range(len(size)))


@settings(max_examples=300)
@given(
    bag=st.lists(
        st.tuples(sizes, st.integers(0, 8), st.sampled_from("ab")), max_size=10
    ),
    max_removal=limits,
    floor=limits,
    clean_up=st.just(0) | st.integers(0, 5),
)
def test_plan_of_tyres_out_of_round_is_the_best(
    bag: list[tuple[int, int, str]], max_removal: int, floor: int, clean_up: int
) -> None:
    size = [one for one, _, _ in bag]
    smallest = [max(one - low, 1) for one, low, _ in bag]
    group = [label for _, _, label in bag]

    def rubber(one: int, two: int) -> int | None:
        target = min(smallest[one], smallest[two]) - clean_up
        losses = [size[one] - target, size[two] - target]
        possible = target >= floor and max(losses) <= max_removal
        return sum(losses) if possible and group[one] == group[two] else None

    plan = plan_truing(
        size,
        smallest_um=smallest,
        max_removal_um=max_removal,
        floor_um=floor,
        clean_up_um=clean_up,
        group=group,
    )
    assert sorted([*plan.keep, *plan.grind, *plan.leftover]) == list(range(len(size)))
    pairs = list(zip(plan.keep.tolist(), plan.grind.tolist(), strict=True))
    for (keep, grind), target, removal in zip(
        pairs, plan.target_um.tolist(), plan.removal_um.tolist(), strict=True
    ):
        assert target + clean_up == min(smallest[keep], smallest[grind])
        assert removal == size[grind] - target >= size[keep] - target
    costs = [rubber(*pair) for pair in pairs]
    assert None not in costs
    found = len(costs), float(sum(cost for cost in costs if cost is not None))
    assert found == best_by_networkx(len(size), rubber)


def test_smallest_sections_are_checked() -> None:
    with pytest.raises(NotARowError, match="2 sizes"):
        plan_truing([20, 20], smallest_um=[20], max_removal_um=5, floor_um=1)
    with pytest.raises(NotASizeError, match="position 1"):
        plan_truing([20, 20], smallest_um=[20, 21], max_removal_um=5, floor_um=1)
