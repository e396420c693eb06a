"""What a car's readings would be with other parts on, column by column."""

import math

import numpy as np
import pytest

from inspection.compute.judging.evaluation import Field
from inspection.compute.quantities import QUANTITIES, Kind
from inspection.compute.stance import Derivation
from inspection.compute.what_if import Motors, Pairs, Stock
from inspection.compute.what_if.changed_cars import (
    Change,
    Changes,
    Masses,
    columns_of_change,
    with_columns,
    with_parts,
)
from tests.inspection.compute.cars import LEVEL, make_field
from tests.inspection.compute.fit.fit_cars import (
    FLAT,
    IN_LINE,
    a_motor,
    column,
    doubt,
    gears,
)

NONE = np.array([-1])
FIRST = np.array([0])


def value(field: Field, name: str) -> float:
    return float(field.value[0, field.columns.index(name)])


def with_motor(motor: Motors, **values: float) -> Field:
    car = make_field([FLAT | values])
    changes = Changes(pair=NONE, gear=NONE, motor=FIRST)
    return with_parts(car, Stock(motors=motor), changes, Masses(motor_g=30.0))


def test_a_sidewinders_can_grows_ahead_by_its_width_and_across_by_its_length() -> None:
    # The car's can: 20 wide, 28 long, from 12 to 40 ahead, 14 to either side.
    got = with_motor(a_motor(can_width_mm=21.0, can_length_mm=27.0))
    assert value(got, "can_front_x") == pytest.approx(41.0)
    assert value(got, "can_half_width") == pytest.approx(13.5)
    assert value(got, "can_rear_x") == pytest.approx(12.0)


def test_an_in_line_can_grows_ahead_by_its_length_and_across_by_its_width() -> None:
    motor = a_motor(can_width_mm=21.0, can_length_mm=27.0)
    got = with_motor(motor, layout=IN_LINE, can_half_width=10.0)
    assert value(got, "can_front_x") == pytest.approx(39.0)
    assert value(got, "can_half_width") == pytest.approx(10.5)


def test_a_shaft_that_was_measured_rises_with_the_new_cans() -> None:
    # Half of 16.6 now, half of 17.6 then: 0.5 more.
    got = with_motor(a_motor(can_height_mm=17.6), motor_axis_height=8.45)
    assert value(got, "motor_axis_height") == pytest.approx(8.95)


def test_a_motor_brings_its_weight_where_both_are_known() -> None:
    heavier = a_motor(mass_g=32.5)
    assert value(with_motor(heavier), "weight_car") == pytest.approx(183.5)
    assert value(with_motor(a_motor()), "weight_car") == pytest.approx(181.0)


def test_tyres_bring_their_sizes_and_their_gauge() -> None:
    pairs = Pairs(
        left_diameter_mm=column(20.4),
        right_diameter_mm=column(20.3),
        width_mm=column(15.0),
        hardness=column(24.0),
        doubts={
            "left_diameter_mm": doubt(0.02, 0.03, 7),
            "right_diameter_mm": doubt(0.01, 0.04, 8),
            "hardness": doubt(1.0, 0.5, 9),
        },
    )
    car = make_field([FLAT | {"tyre_hardness": 30.0, "run_out": 0.1, "rollout": 20.0}])
    got = with_parts(
        car, Stock(pairs=pairs), Changes(pair=FIRST, gear=NONE, motor=NONE)
    )
    assert value(got, "tyre_diameter_rear_right") == pytest.approx(20.3)
    # 60 from middle to middle.
    assert value(got, "width_rear") == pytest.approx(75.0)
    assert value(got, "tyre_hardness") == pytest.approx(24.0)
    # Nobody has put these to the indicator, and the car's rollout is another one now.
    assert math.isnan(value(got, "run_out"))
    assert math.isnan(value(got, "rollout"))
    for name, known in (
        ("tyre_diameter_rear_left", (0.02, 0.03, 7)),
        ("tyre_diameter_rear_right", (0.01, 0.04, 8)),
        ("tyre_hardness", (1.0, 0.5, 9)),
        ("tyre_width_rear", (0.0, 0.0, -1)),
    ):
        at = got.columns.index(name)
        assert (got.random[0, at], got.systematic[0, at], got.gauge[0, at]) == known


def test_a_gear_brings_its_offset_and_keeps_its_place() -> None:
    car = make_field([FLAT])
    changes = Changes(pair=NONE, gear=FIRST, motor=NONE)
    table = gears([{"teeth": 30.0, "design_offset_mm": 0.4}])
    got = with_parts(car, Stock(gears=table), changes)
    assert value(got, "teeth_gear") == pytest.approx(30.0)
    assert value(got, "gear_design_offset") == pytest.approx(0.4)
    assert value(got, "gear_position_y") == pytest.approx(-10.0)


def test_what_rests_on_a_changed_column_is_forgotten_and_a_taken_one_moves() -> None:
    car = make_field([FLAT | {"gear_ratio": 3.0, "clearance_gear": 2.7}])
    teeth = with_columns(car, {"teeth_gear": np.array([30.0, 33.0])})
    assert np.isnan(teeth.value[:, teeth.columns.index("gear_ratio")]).all()
    taken = teeth.columns.index("clearance_gear")
    assert teeth.value[:, taken].tolist() == [2.7, 2.7]
    smaller = with_columns(car, {"gear_diameter": np.array([14.0])})
    assert value(smaller, "clearance_gear") == pytest.approx(2.95)
    # A column that is set is what it was set to.
    told = with_columns(car, {"clearance_gear": np.array([1.0])})
    assert value(told, "clearance_gear") == pytest.approx(1.0)


# What a change leaves behind.

EVERYTHING_TAKEN = {
    key: float(Derivation(make_field([LEVEL]), traced=False).column(key).value[0])
    for key, row in QUANTITIES.items()
    if row.kind is Kind.DERIVED and row.formula is not None and not row.sided
}


def _no_stale(before: dict[str, float], after: Field, row: int) -> None:
    """Hold each value that is worked out against one worked out afresh."""
    fresh = {
        name: value
        for name, value in zip(after.columns, after.value[row], strict=True)
        if not np.isnan(value) and name not in before
    }
    afresh = Derivation(make_field([fresh, fresh]), traced=False)
    now = Derivation(after, traced=False)
    for key in before:
        np.testing.assert_allclose(
            now.column(key).value[row], afresh.column(key).value[0], err_msg=key
        )


@pytest.mark.parametrize(
    "column", [name for name in LEVEL if name not in {"layout", "front_carrier"}]
)
def test_nothing_stale_stays_when_a_column_is_set(column: str) -> None:
    car = make_field([LEVEL | EVERYTHING_TAKEN])
    after = with_columns(car, {column: np.full(2, LEVEL[column] + 0.4)})
    _no_stale(EVERYTHING_TAKEN, after, 0)


def test_columns_that_a_part_gives_or_moves() -> None:
    """By the sizes that a part has: the tables' own fields, common practice."""
    pair, gear, motor = (set(columns_of_change(one)) for one in Change)
    assert {"tyre_diameter_rear_left", "tyre_hardness", "clearance_magnet"} <= pair
    assert gear == {"teeth_gear", "gear_diameter", "gear_design_offset", "weight_car"}
    assert {"can_width", "can_front_x", "motor_speed", "weight_car"} <= motor
    assert not pair & motor - {"weight_car"}
