"""The stack of shims against every subset of the box."""

import math
from collections import Counter
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspection.compute.jig.shims import NotAShimError, NotAStackError, choose_shims


def best_by_trying_all(
    target_um: int, box_um: list[int], copies: int
) -> tuple[int, int]:
    """Total and count of the best subset, by looking at every one."""
    counts = Counter(box_um)
    pool = [size for size in counts for _ in range(counts[size] // copies)]
    ranked = [
        (abs(sum(some) - target_um), sum(some), len(some))
        for count in range(len(pool) + 1)
        for some in combinations(pool, count)
    ]
    _, total, count = min(ranked)
    return total, count


@given(
    target_um=st.integers(0, 1500),
    box_um=st.lists(
        st.sampled_from([50, 100, 127, 150, 200, 254, 300, 499, 500])
        | st.integers(1, 900),
        max_size=11,
    ),
    copies=st.integers(1, 3),
)
def test_stack_is_the_best_of_all_subsets(
    target_um: int, box_um: list[int], copies: int
) -> None:
    stack = choose_shims(
        target_um / 1000, [size / 1000 for size in box_um], copies=copies
    )
    total, count = best_by_trying_all(target_um, box_um, copies)
    assert round(stack.total_mm * 1000) == total
    assert len(stack.shims_mm) == count
    used = [round(size * 1000) for size in stack.shims_mm]
    assert sum(used) == total
    assert used == sorted(used, reverse=True)
    have = Counter(box_um)
    assert all(copies * n <= have[size] for size, n in Counter(used).items())


def test_ties_take_the_lower_stack_then_the_fewest_shims() -> None:
    assert choose_shims(0.5, [0.4, 0.6]).shims_mm == (0.4,)
    assert choose_shims(0.5, [0.2, 0.3, 0.5]).shims_mm == (0.5,)
    # None at all is as near as one twice as high.
    assert choose_shims(0.5, [1.0]).shims_mm == ()


def test_whole_micrometres_are_compared() -> None:
    # 0.1 + 0.2 is 0.30000000000000004 in floats, and no further off than 0.3.
    assert choose_shims(0.3, [0.1, 0.2, 0.3]).shims_mm == (0.3,)
    assert choose_shims(0.3, [0.1, 0.2, 0.299]).total_mm == pytest.approx(0.3)


def test_a_large_box_takes_no_time() -> None:
    box = [0.05, 0.1, 0.127, 0.2, 0.254, 0.3, 0.5] * 30
    assert choose_shims(7.777, box).total_mm == pytest.approx(7.777, abs=0.0005)


def test_nothing_wanted_or_nothing_there_is_no_shim() -> None:
    assert choose_shims(0.0, [0.1]).total_mm == pytest.approx(0.0)
    assert choose_shims(0.5, []).shims_mm == ()


@pytest.mark.parametrize("shim", [0.0, -0.1, 0.0004, math.nan, math.inf])
def test_what_is_no_shim_is_refused(shim: float) -> None:
    with pytest.raises(NotAShimError) as refusal:
        choose_shims(0.5, [0.1, shim])
    assert refusal.value.code == "not_a_shim"


@pytest.mark.parametrize(
    ("target", "copies"), [(-0.1, 1), (30.1, 1), (math.nan, 1), (0.5, 0)]
)
def test_what_is_no_stack_is_refused(target: float, copies: int) -> None:
    with pytest.raises(NotAStackError) as refusal:
        choose_shims(target, [0.1], copies=copies)
    assert refusal.value.code == "not_a_stack"
