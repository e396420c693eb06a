"""The checks after soldering, from figures worked by hand."""

import math
from typing import Any

import pytest
from uncertainties import ufloat, umath

from inspection.compute.jig.soldering import (
    BuildCheck,
    BuildRow,
    NotAJigSizeError,
    SolderedChassis,
    after_soldering,
)
from inspection.words.jig import build_advice, build_words


def chassis(**readings: float | None) -> SolderedChassis:
    straight: dict[str, float | None] = {
        "axle_height_left_mm": 8.3,
        "axle_height_right_mm": 8.3,
        "station_span_mm": 40.0,
        "track_mm": 60.0,
        "axle_to_reference_left_mm": 60.0,
        "axle_to_reference_right_mm": 60.0,
        "reference_span_mm": 50.0,
        "motor_axis_height_mm": 8.3,
        "twist_mm": 0.0,
    }
    return SolderedChassis(**(straight | readings))  # type: ignore[arg-type]


def test_a_straight_chassis_holds_all_four_and_needs_no_advice() -> None:
    rows = after_soldering(chassis())
    assert [row.check for row in rows] == list(BuildCheck)[:4]
    assert all(row.holds and not build_advice(row) for row in rows)


def planned(**readings: float | None) -> dict[BuildCheck, BuildRow]:
    set_up = {"planned_axle_height_mm": 8.3, "planned_shaft_height_mm": 8.3}
    rows = after_soldering(chassis(**(set_up | readings)))
    return {row.check: row for row in rows}


def test_a_chassis_as_it_was_planned_holds_all_six() -> None:
    rows = planned()
    assert list(rows) == list(BuildCheck)
    assert all(row.holds for row in rows.values())


@pytest.mark.parametrize(
    ("height", "words", "advice"),
    [
        (8.5, "0.20 mm higher, and the rear as much nearer to the track", "down"),
        (8.1, "0.20 mm lower, and the rear as much further from the track", "up"),
    ],
)
def test_an_axle_that_came_out_otherwise_than_planned_is_told(
    height: float, words: str, advice: str
) -> None:
    # By hand: the mean of the two heights less the 8.30 that the jig was set for.
    row = planned(axle_height_left_mm=height, axle_height_right_mm=height)[
        BuildCheck.AXLE_HEIGHT
    ]
    assert abs(row.value) == pytest.approx(0.2)
    assert words in build_words(row)
    assert f"Set the axle 0.20 mm {advice}" in build_advice(row)


@pytest.mark.parametrize(
    ("shaft", "words", "advice"), [(8.45, "higher", "down"), (8.15, "lower", "up")]
)
def test_a_shaft_that_came_out_otherwise_than_planned_is_told(
    shaft: float, words: str, advice: str
) -> None:
    row = planned(motor_axis_height_mm=shaft)[BuildCheck.SHAFT_HEIGHT]
    assert f"8.30 mm was planned: 0.15 mm {words}." in build_words(row)
    assert build_advice(row) == f"Set the motor 0.15 mm {advice}."


def test_every_figure_carries_its_doubt_as_another_library_propagates_it() -> None:
    """The readings' own errors apart, the gauge's shared, through `uncertainties`."""
    shared = ufloat(0.0, 0.02)

    def read(value: float) -> Any:
        return value + ufloat(0.0, 0.01) + shared

    left, right, axis = read(8.4), read(8.3), read(8.35)
    behind, ahead, twist = read(60.5), read(60.0), read(0.05)
    expected = {
        BuildCheck.AXLE_LEVEL: (left - right) * 60.0 / 40.0,
        BuildCheck.AXLE_SQUARE: umath.degrees(umath.atan((behind - ahead) / 50.0)),
        BuildCheck.MOTOR_AXLE_OFFSET: (left + right) / 2.0 - axis,
        BuildCheck.ROCKING: twist,
        BuildCheck.AXLE_HEIGHT: (left + right) / 2.0 - 8.3,
        BuildCheck.SHAFT_HEIGHT: axis - 8.3,
    }
    rows = planned(
        axle_height_left_mm=8.4,
        axle_height_right_mm=8.3,
        motor_axis_height_mm=8.35,
        axle_to_reference_left_mm=60.5,
        twist_mm=0.05,
        random_mm=0.01,
        systematic_mm=0.02,
    )
    for check, value in expected.items():
        assert abs(rows[check].value) == pytest.approx(abs(value.nominal_value))
        assert rows[check].u == pytest.approx(value.std_dev)


def test_a_figure_nearer_to_its_limit_than_its_doubt_is_too_close_to_call() -> None:
    # 0.09 of 0.10 allowed: 0.01 left, less than 1.645 times 0.0122.
    row = planned(
        axle_height_left_mm=8.39, axle_height_right_mm=8.39, systematic_mm=0.0122
    )[BuildCheck.AXLE_HEIGHT]
    assert row.holds
    assert row.is_close
    assert not planned(systematic_mm=0.0122)[BuildCheck.AXLE_HEIGHT].is_close


def test_heights_of_954_and_967_are_013_out_of_level() -> None:
    # Common practice, no source; the stations taken at the wheels.
    row = after_soldering(
        chassis(
            axle_height_left_mm=9.54, axle_height_right_mm=9.67, station_span_mm=60.0
        )
    )[0]
    assert row.value == pytest.approx(-0.13)
    assert not row.holds
    assert row.margin == pytest.approx(-0.03)
    assert build_words(row) == "The right wheel sits 0.13 mm higher than the left one."
    assert "lower its right end" in build_advice(row)
    assert "9.61 mm" in build_advice(row) or "9.60 mm" in build_advice(row)


def test_level_is_carried_out_to_the_wheels() -> None:
    # 0.1 over 40 is 0.15 over 60.
    row = after_soldering(chassis(axle_height_left_mm=8.4))[0]
    assert row.value == pytest.approx(0.15)
    assert "left wheel sits 0.15 mm higher" in build_words(row)


def test_exactly_at_the_limit_holds_and_a_hair_more_does_not() -> None:
    at = chassis(
        axle_height_left_mm=9.64, axle_height_right_mm=9.54, station_span_mm=60
    )
    over = chassis(
        axle_height_left_mm=9.65, axle_height_right_mm=9.54, station_span_mm=60
    )
    assert after_soldering(at)[0].holds
    assert not after_soldering(over)[0].holds


@pytest.mark.parametrize(("left", "side"), [(60.5, "left"), (59.5, "right")])
def test_an_axle_out_of_square_rolls_to_the_end_that_is_back(
    left: float, side: str
) -> None:
    row = after_soldering(chassis(axle_to_reference_left_mm=left))[1]
    # atan(0.5 / 50) and 1000 * 0.5 / 50.
    assert abs(row.value) == pytest.approx(math.degrees(math.atan(0.01)))
    assert math.copysign(1.0, row.value) == pytest.approx(
        1.0 if side == "left" else -1.0
    )
    assert f"10.0 mm to the {side} in a metre" in build_words(row)
    assert build_advice(row).startswith(f"Move the {side} end 0.50 mm forward")


@pytest.mark.parametrize(
    ("axis", "value", "words"),
    [(8.0, 0.3, "below"), (8.6, -0.3, "above")],
)
def test_a_shaft_out_of_line_says_which_way_to_move(
    axis: float, value: float, words: str
) -> None:
    row = after_soldering(chassis(motor_axis_height_mm=axis))[2]
    assert row.value == pytest.approx(value)
    assert f"0.30 mm {words}" in build_words(row)
    assert ("up" if words == "below" else "down") in build_advice(row)


def test_the_gears_own_offset_is_no_fault() -> None:
    row = after_soldering(
        SolderedChassis(
            axle_height_left_mm=9.0,
            axle_height_right_mm=9.0,
            motor_axis_height_mm=8.3,
            gear_design_offset_mm=0.7,
        )
    )[0]
    assert row.check is BuildCheck.MOTOR_AXLE_OFFSET
    assert row.value == pytest.approx(0.0)
    assert row.holds


@pytest.mark.parametrize(("twist", "side"), [(0.2, "right"), (-0.2, "left")])
def test_a_wheel_off_the_block_is_named(twist: float, side: str) -> None:
    row = after_soldering(chassis(twist_mm=twist))[3]
    assert build_words(row) == f"The front {side} wheel is 0.20 mm off the block."
    assert not row.holds
    assert build_advice(row).startswith(f"Lower the front {side} wheel")


def test_what_was_not_taken_is_left_out() -> None:
    assert after_soldering(SolderedChassis()) == ()
    rows = after_soldering(chassis(track_mm=None, twist_mm=None))
    assert [row.check for row in rows] == [
        BuildCheck.AXLE_SQUARE,
        BuildCheck.MOTOR_AXLE_OFFSET,
    ]


@pytest.mark.parametrize("name", ["station_span_mm", "track_mm", "reference_span_mm"])
def test_a_span_of_nothing_is_refused(name: str) -> None:
    with pytest.raises(NotAJigSizeError):
        after_soldering(chassis(**{name: 0.0}))


def test_a_reading_that_is_no_number_is_refused() -> None:
    with pytest.raises(NotAJigSizeError):
        after_soldering(chassis(axle_height_left_mm=math.nan))
