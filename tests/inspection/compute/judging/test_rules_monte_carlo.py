"""
Least clearance and twist of level cars against a Monte Carlo (JCGM 101).

Each draw is a car with all its readings' errors, that finds its own three feet.  At
a place the spread of the draws is the uncertainty that the rules use.  The least of
two places is another matter: on a level car first order gives it too small a spread
and no bias, which is why rules judge place by place.
"""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from inspection.compute.judging.candidates import Candidates
from inspection.compute.judging.evaluation import Field, Point, evaluate
from inspection.compute.judging.uncertainty import propagate
from inventory.compute.arrays import Floats
from tests.inspection.compute.cars import LEVEL, make_field, make_rules

DRAWS = 20_000
#: Three standard errors of a standard deviation of so many draws.
SPREAD = 3 / sqrt(2 * DRAWS)
#: Standard uncertainty of a gauge, the same in all it takes near one length, mm.
CALIPER = 0.01


def level_field(carrier: float) -> Field:
    """One level car, each of its gauges near one length."""
    sink = 0.03 / sqrt(3)
    field = make_field(
        [{**LEVEL, "tyre_sink": 0.0, "front_carrier": carrier}],
        random=0.01,
        systematic=CALIPER,
    )
    at = field.columns.index("tyre_sink")
    field.random[0, at], field.systematic[0, at] = sink, 0.0
    field.gauge[0] = np.floor(np.nan_to_num(field.value[0]) / 5) + 10
    return field


def draw(field: Field, seed: int) -> Field:
    """Repeat the car as often as there are draws, each time with other errors."""
    rng = np.random.default_rng(seed)
    shape = (DRAWS, len(field.columns))
    gauges = rng.normal(size=(DRAWS, int(field.gauge.max()) + 1))
    value = (
        field.value
        + field.random * rng.normal(size=shape)
        + field.systematic * gauges[:, field.gauge[0]]
    )
    nothing = np.zeros(shape)
    return Field(
        columns=field.columns,
        value=value,
        random=nothing,
        systematic=nothing,
        gauge=nothing.astype(np.int64),
    )


def places(field: Field, key: str, *, traced: bool) -> dict[Point, tuple[Floats, ...]]:
    found = Candidates(field, [key], traced=traced).derived(key)
    return {one.point: (one.value, one.u) for one in found}


@pytest.mark.parametrize("carrier", [0.0, 1.0], ids=["front wheels", "guide"])
@pytest.mark.parametrize(
    "key", ["ride_height_rear", "clearance_gear", "twist", "axle_level"]
)
def test_value_at_a_place_spreads_as_its_uncertainty_says(
    key: str, carrier: float
) -> None:
    """Over the rear axle no support that can change has a say."""
    field = level_field(carrier)
    drawn = places(draw(field, seed=21), key, traced=False)
    found = places(field.take(np.zeros(2, dtype=np.intp)), key, traced=True)
    for point, (value, u) in found.items():
        draws = drawn[point][0]
        assert draws.std() == pytest.approx(u[0], rel=SPREAD), point
        assert draws.mean() == pytest.approx(value[0], abs=4 * u[0] / sqrt(DRAWS))


@pytest.mark.parametrize(
    "key",
    [
        "ride_height_front",
        "clearance_rear",
        "clearance_front",
        "clearance_least",
        "clearance_motor",
        "rake",
        "tilt",
    ],
)
def test_value_at_every_place_of_a_car_on_three_feet_spreads_as_it_says(
    key: str,
) -> None:
    """On the guide there is one support, and no kink."""
    field = level_field(1.0)
    drawn = places(draw(field, seed=22), key, traced=False)
    found = places(field.take(np.zeros(2, dtype=np.intp)), key, traced=True)
    for point, (_, u) in found.items():
        assert drawn[point][0].std() == pytest.approx(u[0], rel=SPREAD), point


def test_car_that_rocks_clearly_spreads_as_it_says_on_its_four_wheels() -> None:
    """Away from the kink: the front right tyre is 1 smaller, and hangs."""
    field = level_field(0.0)
    field.value[0, field.columns.index("tyre_diameter_front_right")] -= 1.0
    drawn = places(draw(field, seed=23), "clearance_front", traced=False)
    twice = field.take(np.zeros(2, dtype=np.intp))
    for point, (_, u) in places(twice, "clearance_front", traced=True).items():
        assert drawn[point][0].std() == pytest.approx(u[0], rel=SPREAD), point


def test_least_of_a_level_car_is_worse_than_first_order_says() -> None:
    """
    Taken as one output, the least has too small an uncertainty and no bias.

    Half of the two edges' slopes each, where the draws take the lower one.
    """
    field = level_field(0.0)

    def least(cars: Field) -> Floats:
        found = places(cars, "ride_height_rear", traced=False)
        return np.minimum(*(value for value, _ in found.values()))

    # Words and counts are not to be stepped.
    read = np.flatnonzero((field.random[0] > 0) & ~np.isnan(field.value[0]))

    def least_of(values: Floats) -> Floats:
        everything = np.repeat(field.value, len(values), axis=0)
        everything[:, read] = values
        blank = np.zeros_like(everything)
        gauge = blank.astype(np.int64)
        cars = replace(
            field, value=everything, random=blank, systematic=blank, gauge=gauge
        )
        return least(cars)[:, None]

    first_order = propagate(
        least_of,
        values=np.repeat(field.value[:, read], 2, axis=0),
        random=field.random[0, read],
        systematic=field.systematic[0, read],
        gauge_index=field.gauge[0, read],
    )
    draws = least(draw(field, seed=24))
    assert first_order.standard_uncertainty[0, 0] < draws.std() * (1 - SPREAD)
    assert draws.mean() < first_order.value[0, 0] - 0.1 * draws.std()
    # Place by place, the doubt of the one that decides covers both.
    rules = make_rules(field, {"ride_height_rear": (1.0, None)})
    found = evaluate(rules, field)
    assert found.u[0, 0] >= draws.std() * (1 - SPREAD)


@pytest.mark.parametrize("bands", [-1.0, 0.0, 1.0])
def test_probability_of_the_deciding_place_is_the_share_of_the_draws(
    bands: float,
) -> None:
    """Four standard errors of a share of so many draws."""
    field = level_field(0.0)
    sure = evaluate(make_rules(field, {"clearance_gear": (1.0, None)}), field)
    limit = sure.value[0, 0] - bands * sure.u[0, 0]
    found = evaluate(make_rules(field, {"clearance_gear": (limit, None)}), field)
    drawn = places(draw(field, seed=25), "clearance_gear", traced=False)
    share = (drawn[Point.GEAR][0] >= limit).mean()
    assert found.probability[0, 0] == pytest.approx(share, abs=4 * 0.5 / sqrt(DRAWS))


def test_twist_rule_is_signed_and_has_no_kink_on_a_level_car() -> None:
    """What lifts a wheel would be half a distribution; twist is a whole one."""
    field = level_field(0.0)
    drawn = places(draw(field, seed=26), "twist", traced=False)[Point.WHOLE][0]
    found = evaluate(make_rules(field, {"twist": (-0.05, 0.05)}), field)
    share = (np.abs(drawn) <= 0.05).mean()
    assert found.probability[0, 0] == pytest.approx(share, abs=4 * 0.5 / sqrt(DRAWS))
    lift = np.abs(drawn)
    assert lift.mean() > found.value[0, 0] + 0.5 * found.u[0, 0]
