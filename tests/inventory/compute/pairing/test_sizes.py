"""Sizes, limits and groups: what is read, and what is refused where."""

import math
from typing import Any

import numpy as np
import pytest

from inventory.compute.errors import ComputeError
from inventory.compute.pairing import (
    NoGroupError,
    NotALimitError,
    NotANumberError,
    NotARowError,
    NotASizeError,
    NotWholeError,
    match_sets,
    pair_by_size,
    pair_with_stagger,
    plan_truing,
)
from inventory.compute.pairing.sizes import PositionError


@pytest.mark.parametrize(
    ("size", "error", "position"),
    [
        ([20000, 0, -1], NotASizeError, 1),
        ([20000, 20000, -18000], NotASizeError, 2),
        ([20000.0, -1.0], NotASizeError, 1),
        ([10**9, 10**9 + 1], NotASizeError, 1),
        (np.array([2**63], dtype=np.uint64), NotASizeError, 0),
        ([5, 10**400], NotASizeError, 1),
        ([5, -(10**400)], NotASizeError, 1),
        ([20000.0, math.nan], NotANumberError, 1),
        ([20000.0, 20000.0, math.inf], NotANumberError, 2),
        ([20000, None], NotANumberError, 1),
        ([np.int64(20000), "20000"], NotANumberError, 0),
        (["20.00"], NotANumberError, 0),
        ([True, True], NotANumberError, 0),
        (np.array([np.int64(5), True], dtype=object), NotANumberError, 1),
        ([20000.0, 19999.5], NotWholeError, 1),
    ],
)
def test_size_that_is_none_is_refused_with_its_position(
    size: Any, error: type[PositionError], position: int
) -> None:
    for pair in (
        lambda: pair_by_size(size, tolerance_um=50),
        lambda: pair_with_stagger(size, stagger_um=100, tolerance_um=50),
        lambda: match_sets(size, set_size=2, tolerance_um=50),
        lambda: plan_truing(size, max_removal_um=50, floor_um=1),
    ):
        with pytest.raises(error) as refused:
            pair()
        assert refused.value.position == position
        assert str(refused.value).startswith(f"position {position}:")


@pytest.mark.parametrize(
    "size", [20000, [[20000, 18000]], [[20000], [18000, 17000]], np.zeros((2, 2, 2))]
)
def test_sizes_in_another_shape_are_refused(size: Any) -> None:
    with pytest.raises(NotARowError):
        pair_by_size(size, tolerance_um=50)


@pytest.mark.parametrize("tolerance", [-1, 0.5, math.nan, math.inf])
def test_tolerance_that_is_no_whole_number_is_refused(tolerance: Any) -> None:
    for pair in (
        lambda: pair_by_size([1, 2], tolerance_um=tolerance),
        lambda: pair_with_stagger([1, 2], stagger_um=tolerance, tolerance_um=1),
        lambda: pair_with_stagger([1, 2], stagger_um=1, tolerance_um=tolerance),
        lambda: match_sets([1, 2], set_size=2, tolerance_um=tolerance),
        lambda: plan_truing([1, 2], max_removal_um=tolerance, floor_um=1),
        lambda: plan_truing([1, 2], max_removal_um=1, floor_um=tolerance),
        lambda: plan_truing(
            [1, 2], max_removal_um=1, floor_um=1, clean_up_um=tolerance
        ),
    ):
        with pytest.raises(NotALimitError):
            pair()


@pytest.mark.parametrize(
    "group", [["soft"], ["soft"] * 3, "ab", np.array([["a", "b"]]), np.array("a")]
)
def test_groups_that_are_not_one_for_each_size_are_refused(group: Any) -> None:
    with pytest.raises(NotARowError):
        pair_by_size([20000, 18000], tolerance_um=50, group=group)


@pytest.mark.parametrize(
    "group",
    [
        ["soft", math.nan],
        np.array([1.0, math.nan]),
        ["soft", ["hard"]],
        [("soft", 11), ("hard", [11])],
    ],
)
def test_group_that_cannot_be_told_is_refused_with_its_position(group: Any) -> None:
    with pytest.raises(NoGroupError) as refused:
        pair_by_size([20000, 18000], tolerance_um=50, group=group)
    assert refused.value.position == 1


@pytest.mark.parametrize(
    "group",
    [
        ["a", "b", "a", "b"],
        np.array(["a", "b", "a", "b"]),
        np.array([7, -3, 7, -3]),
        [("soft", 11), ("hard", 11), ("soft", 11), ("hard", 11)],
        [None, 1, None, 1],
        (label for label in "xyxy"),
    ],
)
def test_any_label_can_tell_groups(group: Any) -> None:
    pairs = pair_by_size([100, 101, 102, 103], tolerance_um=5, group=group)
    assert pairs.first.tolist() == [0, 1]
    assert pairs.second.tolist() == [2, 3]


def test_whole_floats_and_small_integers_are_read() -> None:
    for kind in (np.float32, np.uint8, np.int16, object):
        pairs = pair_by_size(np.array([100, 101], dtype=kind), tolerance_um=1)
        assert pairs.difference_um.tolist() == [1]


def test_every_refusal_has_a_code_of_its_own() -> None:
    errors: list[type[ComputeError]] = [NoGroupError, NotALimitError, NotANumberError]
    errors += [NotARowError, NotASizeError, NotWholeError]
    assert all(issubclass(error, ComputeError) for error in errors)
    assert len({error.code for error in errors}) == len(errors)
