"""Motors in sets by speed and resistance, against every choice there is."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.compute.motors import match_motors
from inventory.compute.pairing import (
    NotALimitError,
    NotAMeasureError,
    NotASetSizeError,
    NotASizeError,
    NotATableError,
    match_sets,
)
from tests.inventory.compute.pairing.matching_oracles import best_by_force

speeds = st.integers(0, 12).map(lambda step: 20_000 + 50 * step)
resistances = st.integers(0, 8).map(lambda step: (200 + step) / 100)
pools = st.lists(st.tuples(speeds, resistances, st.sampled_from("ab")), max_size=8)


@settings(max_examples=500)
@given(
    pool=pools,
    set_size=st.integers(2, 4),
    tolerance_rpm=st.sampled_from([0, 100, 300]),
    tolerance_ohm=st.sampled_from([0.0, 0.02, 0.05]),
)
def test_sets_of_any_pool_hold_and_their_limit_is_one(
    pool: list[tuple[int, float, str]],
    set_size: int,
    tolerance_rpm: int,
    tolerance_ohm: float,
) -> None:
    speed = np.array([one[0] for one in pool], dtype=float)
    ohm = np.array([one[1] for one in pool], dtype=float)
    group = [one[2] for one in pool]
    sets = match_motors(
        speed,
        ohm,
        set_size=set_size,
        tolerance_rpm=tolerance_rpm,
        tolerance_ohm=tolerance_ohm,
        group=group,
    )

    def cost(members: tuple[int, ...]) -> float | None:
        rows = list(members)
        wide = float(np.ptp(speed[rows])), float(np.round(np.ptp(ohm[rows]), 6))
        if len({group[row] for row in rows}) > 1:
            return None
        if wide[0] > tolerance_rpm or wide[1] > tolerance_ohm:
            return None
        return (wide[0] / tolerance_rpm if tolerance_rpm else 0) + (
            wide[1] / tolerance_ohm if tolerance_ohm else 0
        )

    assert sorted([*sets.members.ravel(), *sets.leftover]) == list(range(len(pool)))
    costs = [cost(tuple(row)) for row in sets.members.tolist()]
    assert None not in costs
    assert sets.speed_range_rpm == pytest.approx(np.ptp(speed[sets.members], axis=1))
    assert sets.resistance_range_ohm == pytest.approx(np.ptp(ohm[sets.members], axis=1))
    count, total = best_by_force(len(pool), set_size, cost)
    assert len(costs) <= count <= sets.set_limit
    if set_size == 2:
        assert len(costs) == count == sets.set_limit
        paid = sum(one for one in costs if one is not None)
        assert paid == pytest.approx(total, abs=1e-6)


@settings(max_examples=100)
@given(
    speed=st.lists(speeds, max_size=30),
    set_size=st.integers(3, 5),
    tolerance=st.sampled_from([50, 200]),
)
def test_equal_resistances_leave_sets_by_speed(
    speed: list[int], set_size: int, tolerance: int
) -> None:
    plain = match_sets(speed, set_size=set_size, tolerance_um=tolerance)
    sets = match_motors(
        speed,
        np.full(len(speed), 2.1),
        set_size=set_size,
        tolerance_rpm=tolerance,
        tolerance_ohm=0.0,
    )
    assert len(sets.members) == len(plain.members) == sets.set_limit
    assert sets.speed_range_rpm.sum() == plain.range_um.sum()


def test_two_clusters_that_cross_in_speed_are_told_apart() -> None:
    speed = [20_000, 20_010, 20_020, 20_030, 20_040, 20_050]
    ohm = [2.00, 2.50, 2.01, 2.51, 2.02, 2.52]
    sets = match_motors(speed, ohm, set_size=3, tolerance_rpm=60, tolerance_ohm=0.05)
    assert sets.members.tolist() == [[0, 2, 4], [1, 3, 5]]
    assert sets.set_limit == 2


def test_most_sets_are_found_in_nine_pools_of_ten() -> None:
    # Three or more by two measures is not exact; this holds it to what it does.
    rng = np.random.default_rng(2)
    short = 0
    for _ in range(60):
        speed = rng.normal(20_000, 150, 9).round()
        ohm = rng.normal(2.1, 0.03, 9).round(2)
        sets = match_motors(
            speed, ohm, set_size=3, tolerance_rpm=150, tolerance_ohm=0.03
        )

        def fits(
            members: tuple[int, ...], speed: Any = speed, ohm: Any = ohm
        ) -> float | None:
            rows = list(members)
            wide = np.ptp(speed[rows]) > 150 or np.ptp(ohm[rows]) > 0.03 + 1e-9
            return None if wide else 0.0

        short += len(sets.members) < best_by_force(9, 3, fits)[0]
    assert short <= 6


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_for_a_set_all_stay_over(count: int) -> None:
    sets = match_motors(
        [20_000] * count, [2.1] * count, set_size=3, tolerance_rpm=1, tolerance_ohm=1
    )
    assert sets.members.shape == (0, 3)
    assert sets.leftover.size == count
    assert sets.set_limit == 0


@pytest.mark.parametrize(
    ("speed", "ohm", "set_size", "tolerance_rpm", "error"),
    [
        ([20_000, 20_100], [2.1], 2, 100, NotATableError),
        ([20_000, math.nan], [2.1, 2.1], 2, 100, NotAMeasureError),
        ([20_000, 20_100], [2.1, 0.0], 2, 100, NotASizeError),
        ([20_000, -1], [2.1, 2.1], 2, 100, NotASizeError),
        ([20_000, 20_100], [2.1, 2.1], 1, 100, NotASetSizeError),
        ([20_000, 20_100], [2.1, 2.1], 2, -100, NotALimitError),
    ],
)
def test_what_is_no_pool_is_refused(
    speed: Any, ohm: Any, set_size: int, tolerance_rpm: float, error: type[Exception]
) -> None:
    with pytest.raises(error) as refused:
        match_motors(
            speed,
            ohm,
            set_size=set_size,
            tolerance_rpm=tolerance_rpm,
            tolerance_ohm=0.1,
        )
    assert getattr(refused.value, "position", 1) == 1
