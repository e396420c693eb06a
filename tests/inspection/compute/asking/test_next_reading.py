"""Which reading next: its chance by simulation, and a season read that way."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from inspection.compute.asking.settling import (
    LEAST_CHANCE,
    Unsettled,
    next_reading,
)

SCATTER, STEP, SHARED = 0.03, 0.01 / 12**0.5, 0.02 / 3**0.5
FACTOR = float(stats.norm.ppf(0.95))
#: Rules by columns: a width, the difference of two tyres, and the mean of the two.
SLOPE = np.array([[1.0, 0, 0], [0, 1.0, -1.0], [0, 0.5, 0.5]])
LOWER = np.array([-np.inf, -0.2, 18.0])
UPPER = np.array([62.0, 0.2, np.inf])


def car_after(read: np.ndarray, count: np.ndarray) -> Unsettled:
    """Say what is known of a car by the means of so many readings of each column."""
    value = SLOPE @ read
    own = SCATTER**2 / count + STEP**2
    # The caliper's own error is one for all: none of it is left in a difference.
    u = np.sqrt(SLOPE**2 @ own + (SLOPE.sum(axis=1) * SHARED) ** 2)
    return Unsettled(
        above=value - LOWER,
        below=UPPER - value,
        u=u,
        factor=np.full(3, FACTOR),
        slope=SLOPE,
        gain=SCATTER**2 * (1 / count - 1 / (count + 1)),
        most=SCATTER**2 / count,
    )


def is_settled(car: Unsettled) -> bool:
    band = car.factor * car.u
    near = np.minimum(car.above, car.below)
    return bool((near >= band).all() or (near <= -band).any())


class Bench:
    """A car whose readings are drawn as they are asked for."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        width, one, other = rng.normal([61.88, 18.08, 18.08], [0.1, 0.06, 0.06])
        self.true = np.array([width, one, other]) + rng.normal(0, SHARED)
        self.sums, self.count = np.zeros(3), np.zeros(3)

    def read(self, column: int) -> None:
        self.sums[column] += self.rng.normal(self.true[column], SCATTER)
        self.count[column] += 1

    @property
    def known(self) -> Unsettled:
        return car_after(self.sums / self.count, self.count)


def season(cars: int, *, seed: int) -> tuple[float, float, float, float]:
    """Read cars three times each way; give shares settled and readings a car, both."""
    settled, readings = np.zeros(2), np.array([9.0, 0.0])
    rng = np.random.default_rng(seed)
    for _ in range(cars):
        three = Bench(rng)
        for column in (0, 1, 2) * 3:
            three.read(column)
        settled[0] += is_settled(three.known)
        one = Bench(rng)
        for column in range(3):
            one.read(column)
        while not is_settled(one.known) and one.count.sum() < 12:
            asked = next_reading(one.known).column
            if asked is None:
                break
            one.read(asked)
        settled[1] += is_settled(one.known)
        readings[1] += one.count.sum() / cars
    return settled[0] / cars, readings[0], settled[1] / cars, readings[1]


def test_fewer_readings_settle_as_many_cars(capsys: pytest.CaptureFixture[str]) -> None:
    of_three, taken, of_next, asked = season(1_500, seed=1947)
    with capsys.disabled():
        print(  # noqa: T201
            f"\nthree of everything settle {of_three:.1%} by {taken:.1f} readings a "
            f"car, the one asked next {of_next:.1%} by {asked:.1f}"
        )
    assert of_next >= of_three - 0.01
    assert asked < 0.7 * taken


@pytest.mark.long
def test_fewer_readings_settle_as_many_of_many_cars() -> None:
    of_three, taken, of_next, asked = season(20_000, seed=1956)
    assert of_next >= of_three - 0.005
    assert asked < 0.7 * taken


def test_chance_is_the_share_of_such_cars_that_are_settled() -> None:
    # The truth is drawn from what is known, then one more reading of it.
    rng = np.random.default_rng(7)
    count, read = np.array([2.0, 1, 1]), np.array([61.93, 18.15, 18.02])
    car = car_after(read, count)
    assert not is_settled(car)
    found = next_reading(car)
    assert found.column is not None
    # Without the shared error, which stays as it is.
    true = rng.normal(read, SCATTER / np.sqrt(count), (20_000, 3))[:, found.column]
    seen = rng.normal(true, SCATTER)
    share = 0
    for one in seen[:4_000]:
        sums, more = read * count, count.copy()
        sums[found.column] += one
        more[found.column] += 1
        share += is_settled(car_after(sums / more, more))
    assert found.chance == pytest.approx(share / 4_000, abs=0.025)


def test_where_no_reading_adds_anything_none_is_next() -> None:
    # Nothing of what is not known is scatter: no mean of readings moves the value.
    car = car_after(np.array([61.93, 18.15, 18.02]), np.ones(3))
    still = replace(car, gain=np.zeros(3), most=np.zeros(3))
    found = next_reading(still)
    assert (found.column, found.chance) == (None, 0.0)
    assert found.ever < LEAST_CHANCE


def test_gauge_that_cannot_tell_says_so() -> None:
    # 0.001 inside the limit, and the gauge's own error alone is 0.0115: endless
    # readings settle it with the chance that their mean moves by 1.6 times that.
    read = np.array([61.999, 18.2, 18.2])
    many = car_after(read, np.array([30.0, 30.0, 30.0]))
    found = next_reading(many)
    assert found.column is None
    assert found.ever < LEAST_CHANCE
    once = next_reading(car_after(read, np.ones(3)))
    assert once.column == 0
