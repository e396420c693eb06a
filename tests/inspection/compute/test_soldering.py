"""The checks after soldering, from figures worked by hand."""

import math

import pytest

from inspection.compute.soldering import (
    BuildCheck,
    NotAJigSizeError,
    SolderedChassis,
    after_soldering,
)


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
    assert [row.check for row in rows] == list(BuildCheck)
    assert all(row.holds and not row.advice for row in rows)


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
    assert row.sentence == "The right wheel sits 0.13 mm higher than the left one."
    assert "lower its right end" in row.advice
    assert "9.61 mm" in row.advice or "9.60 mm" in row.advice


def test_level_is_carried_out_to_the_wheels() -> None:
    # 0.1 over 40 is 0.15 over 60.
    row = after_soldering(chassis(axle_height_left_mm=8.4))[0]
    assert row.value == pytest.approx(0.15)
    assert "left wheel sits 0.15 mm higher" in row.sentence


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
    assert f"10.0 mm to the {side} in a metre" in row.sentence
    assert row.advice.startswith(f"Move the {side} end 0.50 mm forward")


@pytest.mark.parametrize(
    ("axis", "value", "words"),
    [(8.0, 0.3, "below"), (8.6, -0.3, "above")],
)
def test_a_shaft_out_of_line_says_which_way_to_move(
    axis: float, value: float, words: str
) -> None:
    row = after_soldering(chassis(motor_axis_height_mm=axis))[2]
    assert row.value == pytest.approx(value)
    assert f"0.30 mm {words}" in row.sentence
    assert ("up" if words == "below" else "down") in row.advice


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
    assert row.sentence == f"The front {side} wheel is 0.20 mm off the block."
    assert not row.holds
    assert row.advice.startswith(f"Lower the front {side} wheel")


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
