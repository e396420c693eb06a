"""Pairs by several measures, against networkx, and what is refused."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.pairing import (
    FeatureMatching,
    NoGroupError,
    NotALimitError,
    NotAMeasureError,
    NotARowError,
    NotATableError,
    pair_by_features,
    pair_by_size,
)
from tests.inventory.compute.pairing.matching_oracles import best_by_networkx

measures = st.integers(0, 8).map(lambda step: 18 + step / 100)
hardness = st.integers(28, 32).map(float)
parts = st.tuples(measures, hardness, st.sampled_from("ab"))


def check_is_matching(pairs: FeatureMatching, count: int) -> None:
    used = [*pairs.first, *pairs.second, *pairs.leftover]
    assert sorted(used) == list(range(count))
    assert pairs.cost.tolist() == sorted(pairs.cost)
    assert pairs.leftover.tolist() == sorted(pairs.leftover)


@settings(max_examples=500)
@given(
    bag=st.lists(parts, max_size=11),
    tolerances=st.tuples(st.sampled_from([0, 0.01, 0.03]), st.sampled_from([0, 1, 3])),
    weights=st.tuples(st.sampled_from([0, 1, 2.5]), st.sampled_from([0, 1, 0.3])),
)
def test_pairs_of_any_bag_are_the_best(
    bag: list[tuple[float, float, str]],
    tolerances: tuple[float, float],
    weights: tuple[float, float],
) -> None:
    features = np.array([part[:2] for part in bag]).reshape(-1, 2)
    group = [part[2] for part in bag]
    pairs = pair_by_features(
        features, tolerances=tolerances, weights=weights, group=group
    )
    check_is_matching(pairs, len(bag))

    def cost(one: int, two: int) -> float | None:
        total = 0.0
        for column, (tolerance, weight) in enumerate(
            zip(tolerances, weights, strict=True)
        ):
            apart = abs(features[one, column] - features[two, column])
            if apart > tolerance + 1e-9:
                return None
            total += weight * apart / tolerance if tolerance else 0
        return total if group[one] == group[two] else None

    count, total = best_by_networkx(len(bag), cost)
    assert pairs.first.size == count
    assert pairs.cost.sum() == pytest.approx(total, abs=1e-6)
    for one, two, paid in zip(pairs.first, pairs.second, pairs.cost, strict=True):
        assert paid == pytest.approx(cost(int(one), int(two)), abs=1e-6)
        assert (features[one, 0], one) < (features[two, 0], two)


@given(
    size=st.lists(st.integers(17_900, 18_100), max_size=30),
    tolerance=st.integers(1, 60),
)
def test_one_measure_is_pairing_by_size(size: list[int], tolerance: int) -> None:
    plain = pair_by_size(size, tolerance_um=tolerance)
    pairs = pair_by_features(
        np.array(size).reshape(-1, 1) / 1000, tolerances=[tolerance / 1000], weights=[1]
    )
    assert pairs.first.size == plain.first.size
    expected = plain.difference_um.sum() / tolerance
    assert pairs.cost.sum() == pytest.approx(expected, abs=1e-6)


def test_difference_equal_to_the_tolerance_is_inside() -> None:
    # 20.1 - 20.0 is 0.10000000000000142.
    pairs = pair_by_features([[20.1], [20.0]], tolerances=[0.1], weights=[1])
    assert pairs.first.tolist() == [1]
    outside = pair_by_features([[20.11], [20.0]], tolerances=[0.1], weights=[1])
    assert outside.leftover.tolist() == [0, 1]


@pytest.mark.parametrize(("weights", "leftover"), [((1, 3), 1), ((3, 1), 2)])
def test_weights_decide_between_partners(
    weights: tuple[int, int], leftover: int
) -> None:
    # The first is as wide as the second and as hard as the third.
    features = [[20.00, 30.0], [20.00, 32.0], [20.02, 30.0]]
    pairs = pair_by_features(features, tolerances=[0.02, 2], weights=weights)
    assert pairs.leftover.tolist() == [leftover]


def test_empty_bag_and_one_part_have_no_pairs() -> None:
    for count in (0, 1):
        table = np.ones((count, 2))
        pairs = pair_by_features(table, tolerances=[1, 1], weights=[1, 1])
        check_is_matching(pairs, count)
        assert pairs.first.size == 0


@pytest.mark.parametrize(
    "features",
    [[20.0, 20.1], [[20.0], [20.0, 1.0]], [["x"]], [[None, "a"]], np.ones((2, 0))],
)
def test_table_in_another_shape_is_refused(features: Any) -> None:
    with pytest.raises(NotATableError):
        pair_by_features(features, tolerances=[1], weights=[1])


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e12])
def test_missing_measure_is_refused_with_row_and_column(value: float) -> None:
    with pytest.raises(NotAMeasureError) as refused:
        pair_by_features([[1.0, 2.0], [3.0, value]], tolerances=[1, 1], weights=[1, 1])
    assert (refused.value.position, refused.value.column) == (1, 1)


@pytest.mark.parametrize("limits", [[1], [1, 1, 1], 1])
def test_limits_must_be_one_for_each_measure(limits: Any) -> None:
    with pytest.raises(NotATableError):
        pair_by_features([[1, 2]], tolerances=limits, weights=[1, 1])
    with pytest.raises(NotATableError):
        pair_by_features([[1, 2]], tolerances=[1, 1], weights=limits)


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
def test_limit_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(NotALimitError):
        pair_by_features([[1, 2]], tolerances=[1, bad], weights=[1, 1])
    with pytest.raises(NotALimitError):
        pair_by_features([[1, 2]], tolerances=[1, 1], weights=[bad, 1])


def test_groups_are_checked() -> None:
    with pytest.raises(NotARowError):
        pair_by_features([[1]], tolerances=[1], weights=[1], group=["a", "b"])
    with pytest.raises(NoGroupError):
        pair_by_features([[1]], tolerances=[1], weights=[1], group=[math.nan])
