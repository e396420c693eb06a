"""Nights left, against drawn clubs whose tyres wear at rates that are known."""

from typing import Any

import numpy as np
import pytest

from inspection.compute.history.tyre_lives import (
    NightsLeft,
    NoTyresError,
    RacedTyre,
    nights_left,
)

NIGHTS = 10.0


def drawn_club(
    rng: np.random.Generator, *, cars: int, most: int, rates: tuple[float, float, float]
) -> tuple[list[RacedTyre], float, float]:
    """
    Draw a club of one compound: its tyres, the true size and rate of the first two.

    ``rates`` are the compound's mean, the spread of cars and that of tyres.
    """
    middle, of_cars, of_tyres = rates
    tyres, true = [], []
    for car in range(cars):
        own = rng.normal(middle, of_cars)
        count = most if car == 0 else int(rng.integers(1, most + 1))
        for _ in range(2):
            rate = max(rng.normal(own, of_tyres), 0.002)
            raced = np.arange(float(count))
            size = 20.4 - rate * raced
            tyres.append(
                RacedTyre(
                    car=car, nights=raced, diameter_mm=rng.normal(size, READING_U)
                )
            )
            true.append((size[-1], rate))
    (left, left_rate), (right, right_rate) = true[:2]
    return tyres, (left + right) / 2, (left_rate + right_rate) / 2


READING_U = 0.02


def answers(
    trials: int, *, cars: int, most: int, rates: tuple[float, float, float], seed: int
) -> list[NightsLeft]:
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(trials):
        tyres, now, rate = drawn_club(rng, cars=cars, most=most, rates=rates)
        said = nights_left(
            tyres,
            on_car=[0, 1],
            limit_mm=now - NIGHTS * rate,
            repeatability_mm=READING_U,
        )
        assert said is not None
        found.append(said)
    return found


@pytest.mark.parametrize(
    ("cars", "most", "rates", "seed"),
    # 0.05 mm a night, cars and tyres apart by a fifth and an eighth of it: common
    # practice, no source.
    [
        (1, 6, (0.05, 0.01, 0.006), 1),
        (4, 5, (0.05, 0.01, 0.006), 2),
        (8, 5, (0.05, 0.015, 0.010), 3),
        (8, 4, (0.04, 0.004, 0.004), 4),
    ],
)
def test_nine_of_ten_intervals_hold_the_truth(
    cars: int, most: int, rates: tuple[float, float, float], seed: int
) -> None:
    found = answers(400, cars=cars, most=most, rates=rates, seed=seed)
    held = np.array([one.low <= NIGHTS <= one.high for one in found])
    assert 0.86 <= held.mean() <= 0.94
    shown = np.array([one.is_known for one in found])
    assert shown.mean() > 0.9
    assert 0.86 <= held[shown].mean() <= 0.94


def test_what_other_cars_say_narrows_the_answer() -> None:
    rates = (0.05, 0.008, 0.004)
    alone = answers(60, cars=1, most=4, rates=rates, seed=5)
    among = answers(60, cars=10, most=4, rates=rates, seed=5)
    widths = [
        np.median([one.high - one.low for one in found]) for found in (alone, among)
    ]
    assert widths[1] < 0.8 * widths[0]


def test_growth_is_not_thrown_away() -> None:
    # Two readings, the second larger: it says that the rate is small.
    raced = np.array([0.0, 1.0])
    grown = RacedTyre(car=0, nights=raced, diameter_mm=np.array([20.40, 20.43]))
    worn = [
        RacedTyre(
            car=car, nights=np.arange(6.0), diameter_mm=20.4 - 0.05 * np.arange(6.0)
        )
        for car in (1, 2, 3)
    ]
    fresh = RacedTyre(car=0, nights=np.zeros(1), diameter_mm=np.array([20.42]))
    asked: dict[str, Any] = {"limit_mm": 19.9, "repeatability_mm": 0.02}
    with_growth = nights_left([grown, *worn], on_car=[0], **asked)
    without = nights_left([fresh, *worn], on_car=[0], **asked)
    assert with_growth is not None
    assert without is not None
    assert with_growth.per_night_mm < without.per_night_mm
    assert with_growth.likely > without.likely


def test_one_tyre_by_itself_is_the_straight_line_of_a_textbook() -> None:
    raced = np.arange(12.0)
    size = np.random.default_rng(6).normal(20.4 - 0.04 * raced, 0.01)
    tyre = RacedTyre(car=1, nights=raced, diameter_mm=size)
    found = nights_left([tyre], on_car=[0], limit_mm=19.6, repeatability_mm=0.01)
    slope, start = np.polyfit(raced, size, 1)
    assert found is not None
    assert found.per_night_mm == pytest.approx(-slope, rel=1e-6)
    assert found.likely == pytest.approx((start - 19.6) / -slope - 11, rel=0.01)
    assert found.low < found.likely < found.high


def test_too_little_is_not_yet_known() -> None:
    once = RacedTyre(car=0, nights=np.zeros(1), diameter_mm=np.array([20.4]))
    assert nights_left([once], on_car=[0], limit_mm=20, repeatability_mm=0.02) is None
    twice = RacedTyre(
        car=0, nights=np.array([0.0, 1.0]), diameter_mm=np.array([20.4, 20.44])
    )
    found = nights_left([twice], on_car=[0], limit_mm=19.5, repeatability_mm=0.02)
    assert found is not None
    assert not found.is_known
    assert found.high == float("inf")


def test_limit_that_is_passed_leaves_none() -> None:
    raced = np.arange(6.0)
    tyre = RacedTyre(car=0, nights=raced, diameter_mm=20.4 - 0.1 * raced)
    found = nights_left([tyre], on_car=[0], limit_mm=20.4, repeatability_mm=0.01)
    assert found is not None
    assert (found.low, found.likely, found.high) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("nights", "sizes", "on_car", "limit"),
    [
        ([0.0], [20.0], [], 19.0),
        ([0.0, 1.0], [20.0], [0], 19.0),
        ([], [], [0], 19.0),
        ([0.0], [float("nan")], [0], 19.0),
        ([0.0], [20.0], [0], float("inf")),
    ],
)
def test_what_is_no_tyre_is_refused(
    nights: list[float], sizes: list[float], on_car: list[int], limit: float
) -> None:
    tyre = RacedTyre(car=0, nights=np.array(nights), diameter_mm=np.array(sizes))
    with pytest.raises(NoTyresError):
        nights_left([tyre], on_car=on_car, limit_mm=limit, repeatability_mm=0.02)
