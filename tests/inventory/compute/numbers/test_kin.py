"""Slips of the decimal inside the range: injected by the hundred thousand."""

import numpy as np
import pytest

from inventory.compute.numbers.kin import kin_of, slip_among_kin

#: Of the registry: clearances may be so much, in mm.
LOW, HIGH = 0.2, 5.0


def drawn_class(
    rng: np.random.Generator, cars: int, middle: float, spread: float
) -> np.ndarray:
    """Draw a class's clearances: about a middle, few below a minimum, some wild."""
    values = middle * np.exp(rng.normal(0.0, spread, cars))
    # Most builders stay just over the minimum.
    least = middle * (1 - spread)
    values = np.where(values < least, least + rng.exponential(0.03, cars), values)
    wild = rng.random(cars) < 0.05
    return np.where(wild, rng.uniform(LOW, HIGH, cars), values)


def test_hundred_thousand_injected_slips() -> None:
    # Those that land inside 0 to 5 mm, what the least clearance may be: nothing else
    # asks about them.  One value in twenty is a wild one.
    rng = np.random.default_rng(1974)
    injected = caught = asked = read = 0
    for _ in range(700):
        said = rng.uniform(0.6, 2.2), rng.uniform(0.05, 0.3)
        kin = kin_of(drawn_class(rng, int(rng.integers(10, 120)), *said))
        assert kin is not None
        true = np.round(drawn_class(rng, 400, *said), 2)
        slips = np.round(true * np.where(rng.random(true.size) < 0.5, 0.1, 10), 3)
        inside = slips <= HIGH
        meant = slip_among_kin(slips[inside], kin, low=0.0, high=HIGH)
        injected += int(inside.sum())
        caught += int((np.abs(meant - true[inside]) < 1e-9).sum())
        asked += int((~np.isnan(slip_among_kin(true, kin, low=0.0, high=HIGH))).sum())
        read += true.size
    assert injected > 100_000
    assert caught / injected >= 0.95
    assert asked / read <= 0.005


def test_class_with_slips_in_its_own_values_is_told_all_the_same() -> None:
    # Hampel's point: a tenth of gross errors does not move median and distances much.
    rng = np.random.default_rng(5)
    values = rng.normal(1.2, 0.1, 100)
    values[:10] /= 10
    kin = kin_of(values)
    assert kin is not None
    assert slip_among_kin(0.12, kin, low=0.0, high=5.0) == pytest.approx(1.2)
    mean, deviation = np.mean(values), np.std(values)
    assert abs(0.12 - mean) / deviation < 3  # what mean and deviation would let pass


@pytest.mark.parametrize("values", [[], [1.2] * 7, [0.0] * 20])
def test_few_tell_nothing(values: list[float]) -> None:
    assert kin_of(values) is None


def test_limit_slips_that_are_all_alike_make_a_range() -> None:
    kin = kin_of([1.0] * 30)
    assert kin is not None
    assert slip_among_kin(1.4, kin, low=0.2, high=5.0) is None
    assert slip_among_kin(0.1, kin, low=0.0, high=5.0) == pytest.approx(1.0)
    assert slip_among_kin(0.0, kin, low=0.0, high=5.0) is None
