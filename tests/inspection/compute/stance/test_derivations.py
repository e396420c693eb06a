"""
Derived quantities against worked numbers and two independent libraries.

`uncertainties` and `GTC` carry each input's uncertainty through formulas of their
own, in ``budget``.
"""

from math import hypot
from typing import Any

import GTC
import numpy as np
import pytest
import uncertainties
import uncertainties.umath
from numpy.typing import NDArray

from inspection.compute.judging.candidates import Candidate, Candidates
from inspection.compute.judging.evaluation import Field, Point, evaluate
from inspection.compute.quantities.registry import (
    QUANTITIES,
    AxleHeightTo,
    AxleHeld,
    Layout,
    column_owner,
)
from inventory.compute.measuring.gauges import GaugeMode
from tests.inspection.compute.cars import DERIVED, LEVEL, make_field, make_rules
from tests.inspection.compute.judging.budget import Functions, derive_all, known


def random_field(seed: int, cars: int) -> Field:
    """Cars about the level one, half of them on the guide."""
    rng = np.random.default_rng(seed)
    level = make_field([{**LEVEL, "tyre_sink": 0.02}])
    value = np.repeat(level.value, cars, axis=0)
    measured = np.repeat(level.random > 0, cars, axis=0)
    value += np.where(measured, rng.normal(0.0, 0.15, value.shape), 0.0)
    value[1::2, level.columns.index("front_carrier")] = 1.0
    return Field(
        columns=level.columns,
        value=value,
        random=np.where(measured, rng.uniform(0.0, 0.03, value.shape), 0.0),
        systematic=np.where(measured, rng.uniform(0.0, 0.03, value.shape), 0.0),
        gauge=rng.integers(-1, 4, value.shape),
    )


def twice(field: Field) -> Field:
    return field.take(
        np.arange(field.car_count).repeat(2 if field.car_count == 1 else 1)
    )


def candidates(field: Field, key: str) -> dict[Point, Candidate]:
    return {
        one.point: one
        for one in Candidates(twice(field), [key], traced=True).derived(key)
        if one.present[0]
    }


def least(car: dict[str, float], key: str) -> float:
    found = candidates(make_field([car]), key).values()
    return min(float(one.value[0]) for one in found)


# Worked numbers: common practice, no source.


def test_level_car_has_its_ride_heights_and_rake() -> None:
    """Wheelbase 95, rear 20.4 on 8.5, front 18 on 7.5: 1.70, 1.50, +0.1206."""
    # Square to the ground, not along z: a few 1e-6 less.
    assert least(LEVEL, "ride_height_rear") == pytest.approx(1.70, abs=1e-5)
    assert least(LEVEL, "ride_height_front") == pytest.approx(1.50, abs=1e-5)
    assert least(LEVEL, "rake") == pytest.approx(0.1206, abs=5e-5)
    assert least(LEVEL, "tilt") == pytest.approx(0.0, abs=1e-12)
    assert least(LEVEL, "twist") == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("tyre", "height", "chassis", "gear", "over_gear"),
    [(17.6, 8.30, 0.50, 12.0, 2.80), (19.5, 8.30, 1.45, 17.6, 0.95)],
)
def test_level_car_clears_by_radius_less_axle_height(
    tyre: float, height: float, chassis: float, gear: float, over_gear: float
) -> None:
    level = dict(LEVEL)
    for end in ("rear", "front"):
        for side in ("left", "right"):
            level[f"tyre_diameter_{end}_{side}"] = tyre
            level[f"axle_height_{end}_{side}"] = height
    level["gear_diameter"] = gear
    for key in ("ride_height_rear", "clearance_rear", "clearance_least"):
        assert least(level, key) == pytest.approx(chassis)
    assert least(level, "clearance_gear") == pytest.approx(over_gear)


def test_can_on_the_datum_puts_the_shaft_at_half_its_height() -> None:
    """Can 16.6: motor axis 8.30, in line with an axle at 8.30."""
    car = {**LEVEL, "motor_lift_rear": 0.0}
    car["axle_height_rear_left"] = car["axle_height_rear_right"] = 8.30
    assert least(car, "motor_axis_height") == pytest.approx(8.30)
    assert least(car, "motor_axle_offset") == pytest.approx(0.0)


def test_axle_heights_apart_are_out_of_level_by_as_much_at_the_stations() -> None:
    """Heights 9.54 and 9.67: 0.13 out of level."""
    car = {**LEVEL, "axle_height_rear_left": 9.54, "axle_height_rear_right": 9.67}
    car["axle_station_span_rear"] = car["width_rear"] - car["tyre_width_rear"]
    assert least(car, "axle_level") == pytest.approx(-0.13)


def test_rollout_is_the_tyre_round_over_the_ratio() -> None:
    """π·20.4/3.2."""
    assert least(LEVEL, "rollout") == pytest.approx(20.027653)


# Against independent libraries.


class Budget:
    """Inputs of one car as numbers that carry their uncertainty, and the parts."""

    def __init__(self, field: Field, car: int) -> None:
        self.gauges: dict[object, tuple[int, float]] = {}
        self.x = dict(known(field, car))
        for at, name in enumerate(field.columns):
            if name not in self.x or field.random[car, at] == 0:
                continue
            own = uncertainties.ufloat(self.x[name], field.random[car, at])
            error = uncertainties.ufloat(0.0, float(field.systematic[car, at]))
            self.gauges[error] = int(field.gauge[car, at]), place(name, self.x[name])
            self.x[name] = own + error

    def u(self, number: uncertainties.UFloat) -> float:
        """Combine by JCGM 100:2008, 5.2.2, errors of one gauge as alike as they are."""
        parts = [
            (slope * variable.std_dev, *self.gauges.get(variable, (-1, 0.0)))
            for variable, slope in number.derivatives.items()
        ]
        return float(
            np.sqrt(
                sum(
                    one * other * (i == j or likeness(gauge, its_gauge, at - its_at))
                    for i, (one, gauge, at) in enumerate(parts)
                    for j, (other, its_gauge, its_at) in enumerate(parts)
                )
            )
        )


def place(column: str, length: float) -> float:
    mode = QUANTITIES[column_owner(column)[0]].mode or GaugeMode.OUTSIDE
    return length / mode.length_scale_mm


def likeness(gauge: int, other: int, apart: float) -> float:
    return float(np.exp(-abs(apart))) if gauge == other >= 0 else 0.0


def test_derived_quantities_agree_with_an_independent_library() -> None:
    field = random_field(seed=11, cars=10)
    found = Candidates(field, DERIVED, traced=True)
    functions = Functions(uncertainties.umath.sqrt, uncertainties.umath.atan)
    compared = 0
    for car in range(field.car_count):
        budget = Budget(field, car)
        expected = derive_all(budget.x, functions)
        for key in DERIVED:
            for one in found.derived(key):
                if not one.present[car] or (key, one.point) not in expected:
                    continue
                number = expected[key, one.point]
                if key == "gear_ratio":
                    assert one.value[car] == pytest.approx(number, rel=1e-15)
                    assert not one.u[car]
                    continue
                u = budget.u(number)
                assert one.value[car] == pytest.approx(number.n, rel=1e-9, abs=1e-12)
                assert one.u[car] == pytest.approx(u, rel=1e-6), (car, key, one.point)
                compared += 1
    assert compared > 30 * field.car_count


def test_derived_quantities_agree_with_gtc() -> None:
    field = random_field(seed=12, cars=6)
    found = Candidates(field, DERIVED, traced=True)
    for car in range(field.car_count):
        errors: list[tuple[Any, int, float]] = []
        x: dict[str, Any] = dict(known(field, car))
        for at, name in enumerate(field.columns):
            if name in x and field.random[car, at] > 0:
                error = GTC.ureal(0, 1, independent=False)
                gauge, where = int(field.gauge[car, at]), place(name, x[name])
                for other, its_gauge, its_place in errors:
                    alike = likeness(gauge, its_gauge, where - its_place)
                    if alike:
                        GTC.set_correlation(alike, error, other)
                errors.append((error, gauge, where))
                own = GTC.ureal(field.value[car, at], field.random[car, at])
                x[name] = own + float(field.systematic[car, at]) * error
        expected = derive_all(x, Functions(GTC.sqrt, GTC.atan))
        for key in DERIVED:
            for one in found.derived(key):
                number = expected.get((key, one.point))
                if one.present[car] and number is not None and key != "gear_ratio":
                    assert one.value[car] == pytest.approx(GTC.value(number), rel=1e-9)
                    assert one.u[car] == pytest.approx(
                        GTC.uncertainty(number), rel=1e-6
                    )


# Defaults, and what is not known.


def test_tyre_sink_not_measured_is_nothing_within_its_limits() -> None:
    """Flat within ±0.03: 0.03/√3."""
    field = make_field([LEVEL], random=0.0, systematic=0.0)
    one = candidates(field, "clearance_gear")[Point.GEAR]
    assert one.u[0] == pytest.approx(0.03 / 3**0.5, rel=1e-4)


def test_tyre_sink_measured_lowers_the_car() -> None:
    sunk = {**LEVEL, "tyre_sink": 0.1}
    assert least(sunk, "ride_height_rear") == pytest.approx(1.60, abs=1e-5)


@pytest.mark.parametrize(
    ("words", "clearance"),
    [
        ({"axle_height_to": AxleHeightTo.CENTRE}, 1.70),
        # 2.38 thick: half of it down from the top, up from the underside.
        ({"axle_height_to": AxleHeightTo.TOP}, 1.70 + 1.19),
        ({"axle_height_to": AxleHeightTo.UNDERSIDE}, 1.70 - 1.19),
        ({"axle_held": AxleHeld.UP}, 1.70),
        # Unheld it hung by 0.08, which the chassis will sink.
        ({"axle_held": AxleHeld.HANGING}, 1.70 - 0.08),
        (
            {"axle_held": AxleHeld.HANGING, "axle_height_to": AxleHeightTo.TOP},
            1.70 - 0.08 + 1.19,
        ),
    ],
)
def test_axle_height_is_its_centre_held_up_however_read(
    words: dict[str, AxleHeightTo | AxleHeld], clearance: float
) -> None:
    codes = {name: float(tuple(type(word)).index(word)) for name, word in words.items()}
    sizes = {"axle_diameter": 2.38, "axle_play_vertical": 0.08}
    car = {**LEVEL, **sizes, **codes}
    assert least(car, "ride_height_rear") == pytest.approx(clearance, abs=2e-4)


def test_axle_height_is_judged_as_its_centre() -> None:
    car = {**LEVEL, "axle_diameter": 2.38, "axle_height_to": 1.0}
    field = make_field([car], random=0.03, systematic=0.0)
    found = evaluate(make_rules(field, {"axle_height_rear": (7.0, None)}), field)
    assert found.value[0, 0] == pytest.approx(8.5 - 1.19)
    assert found.u[0, 0] == pytest.approx(hypot(0.03, 0.015), rel=1e-6)
    assert found.taken[0, 0]


def test_axle_that_hung_by_an_unknown_play_has_no_height() -> None:
    car = {**LEVEL, "axle_held": 1.0}
    assert np.isnan(least(car, "ride_height_rear"))


def test_taken_half_width_counts_before_half_the_chassis() -> None:
    tilted = {**LEVEL, "tyre_diameter_rear_left": 20.6, "front_carrier": 1.0}
    narrow = least({**tilted, "datum_half_width_rear": 5.0}, "ride_height_rear")
    assert narrow > least(tilted, "ride_height_rear")


@pytest.mark.parametrize("layout", [Layout.SIDEWINDER, Layout.ANGLEWINDER])
def test_can_across_the_car_is_not_half_its_width(layout: Layout) -> None:
    car = {**LEVEL, "layout": float(tuple(Layout).index(layout))}
    assert np.isnan(least(car, "clearance_motor"))
    taken = least({**car, "can_half_width": 12.0}, "clearance_motor")
    assert np.isfinite(taken)


def test_layout_not_declared_is_in_line() -> None:
    car = {name: value for name, value in LEVEL.items() if name != "layout"}
    assert least(car, "clearance_motor") == pytest.approx(
        least(LEVEL, "clearance_motor"), rel=1e-15
    )


def test_sloping_motor_is_lowest_at_the_end_that_hangs() -> None:
    car = {**LEVEL, "motor_lift_front": -0.5}
    found = candidates(make_field([car]), "clearance_motor")
    lowest = min(found, key=lambda point: float(found[point].value[0]))
    assert lowest in {Point.CAN_FRONT_LEFT, Point.CAN_FRONT_RIGHT}


@pytest.mark.parametrize(
    "column",
    [
        "front_carrier",
        "tyre_diameter_front_right",
        "axle_height_front_left",
        "wheelbase_right",
        "width_front",
        "tyre_diameter_rear_left",
    ],
)
def test_car_that_lacks_a_foot_is_not_put_on_the_others(column: str) -> None:
    car = {name: value for name, value in LEVEL.items() if name != column}
    field = make_field([car, LEVEL])
    (gear,) = candidates(field, "clearance_gear").values()
    assert np.isnan(gear.value[0])
    assert np.isfinite(gear.value[1])


def test_car_on_its_guide_needs_no_front_wheels() -> None:
    car = {
        name: value
        for name, value in LEVEL.items()
        if not name.startswith(("tyre_diameter_front", "axle_height_front"))
    }
    assert np.isfinite(least({**car, "front_carrier": 1.0}, "clearance_gear"))


def test_centre_of_gravity_off_the_feet_gives_no_stance() -> None:
    assert np.isnan(least({**LEVEL, "centre_of_gravity_x": -5.0}, "rake"))


def test_car_with_its_weight_to_one_side_stands_there() -> None:
    """The front right tyre is smaller; the weight is over it, or not."""
    car = {**LEVEL, "tyre_diameter_front_right": 17.8, "centre_of_gravity_x": 60.0}
    assert least({**car, "centre_of_gravity_y": -12.0}, "tilt") > 0.05
    assert least({**car, "centre_of_gravity_y": 12.0}, "tilt") == pytest.approx(0.0)


# The outline.

MAGNET = {"outline_1_x": 50.0, "outline_1_y": 0.0, "outline_1_z": -0.4}


def test_outline_given_takes_the_place_of_the_rectangle() -> None:
    found = candidates(make_field([{**LEVEL, **MAGNET}]), "clearance_least")
    assert set(found) == {Point.CORNER_1}
    # Between 1.70 at the rear and 1.50 at 95 ahead, 0.4 down.
    assert found[Point.CORNER_1].value[0] == pytest.approx(
        1.70 - 0.2 * 50 / 95 - 0.4, abs=1e-5
    )


def test_outline_of_some_cars_leaves_the_others_their_rectangle() -> None:
    field = make_field([{**LEVEL, **MAGNET}, LEVEL])
    found = Candidates(field, ["clearance_least"], traced=True)
    present = {one.point: one.present for one in found.derived("clearance_least")}
    assert present[Point.CORNER_1].tolist() == [True, True]
    for point in (Point.CORNER_2, Point.CORNER_3, Point.CORNER_4):
        assert present[point].tolist() == [False, True]
    assert Point.CORNER_5 not in present


def test_outline_corner_of_unknown_height_has_no_clearance() -> None:
    begun = {**LEVEL, "outline_6_x": 50.0, "outline_6_y": 0.0}
    found = candidates(make_field([begun]), "clearance_least")
    assert set(found) == {Point.CORNER_6}
    assert np.isnan(found[Point.CORNER_6].value[0])


@pytest.mark.parametrize(
    ("ahead", "near", "far"),
    [
        (47.0, "clearance_rear", "clearance_front"),
        (48.0, "clearance_front", "clearance_rear"),
    ],
)
def test_outline_corner_belongs_to_the_nearer_axle(
    ahead: float, near: str, far: str
) -> None:
    field = make_field([{**LEVEL, **MAGNET, "outline_1_x": ahead}])
    assert Point.CORNER_1 in candidates(field, near)
    assert Point.CORNER_1 not in candidates(field, far)


def test_outline_corner_of_a_car_without_wheelbase_counts_for_both_ends() -> None:
    car = {**LEVEL, **MAGNET, "front_carrier": 1.0, "centre_of_gravity_x": 40.0}
    del car["wheelbase_left"]
    for key in ("clearance_rear", "clearance_front"):
        assert Point.CORNER_1 in candidates(make_field([car]), key)


@pytest.mark.parametrize(
    ("key", "expected"), [("outline_1_x", -12.0), ("outline_1_y", 25.0)]
)
def test_outline_not_given_starts_at_the_tail(key: str, expected: float) -> None:
    assert least(LEVEL, key) == pytest.approx(expected, rel=1e-15)


def test_every_quantity_with_a_formula_can_be_derived() -> None:
    field = make_field([LEVEL, LEVEL])
    keys = [key for key, row in QUANTITIES.items() if row.has_formula]
    found = Candidates(field, keys, traced=True)
    for key in keys:
        values: list[NDArray[np.float64]] = [one.value for one in found.derived(key)]
        assert np.isfinite(values).all(), key


def test_reading_has_both_parts_of_its_uncertainty() -> None:
    field = make_field([LEVEL], random=0.03, systematic=0.04)
    (weight,) = Candidates(field, [], traced=True).taken("weight_car")
    assert weight.u[0] == pytest.approx(hypot(0.03, 0.04), rel=1e-15)
