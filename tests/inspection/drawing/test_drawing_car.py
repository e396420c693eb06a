"""
Rear and side view, read back: what is drawn has the proportions of the numbers.

The numbers are this test's own.  The scale of each drawing is taken from one
drawn length, and the others are held to it.
"""

import math
import re
from dataclasses import replace

import pytest

from inspection.compute.quantities.registry import COLUMNS
from inspection.drawing.car import CarFigures, Frame, rear_ground, side_ground
from inspection.drawing.rear_view import (
    NARROW,
    describe_rear_view,
    draw_rear_view,
)
from inspection.drawing.side_view import describe_side_view, draw_side_view
from tests.inventory.drawings import (
    assert_well_made,
    corners,
    with_pen,
    words,
)

VALUES = {
    "tyre_diameter_rear_left": 20.62,
    "tyre_diameter_rear_right": 20.46,
    "tyre_width_rear": 14.2,
    "axle_height_rear_left": 9.24,
    "axle_height_rear_right": 9.16,
    "axle_station_span_rear": 22.4,
    "track_rear": 60.3,
    "width_rear": 74.5,
    "axle_diameter": 2.38,
    "datum_half_width_rear": 19.5,
    "datum_half_width_front": 15.0,
    "chassis_thickness": 1.0,
    "gear_position_y": -11.5,
    "gear_diameter": 17.9,
    "can_half_width": 6.4,
    "can_height": 15.1,
    "motor_lift_rear": 0.3,
    "motor_lift_front": 0.5,
    "can_rear_x": 9.0,
    "can_front_x": 39.0,
    "ride_height_rear": 0.88,
    "clearance_gear": 1.31,
    "clearance_motor": 1.33,
    "axle_level": 0.22,
    "tilt": 0.12,
    "tyre_diameter_front_left": 18.3,
    "tyre_diameter_front_right": 18.28,
    "tyre_width_front": 6.0,
    "axle_height_front_left": 8.1,
    "axle_height_front_right": 8.12,
    "axle_station_span_front": 50.0,
    "track_front": 58.0,
    "wheelbase_left": 97.2,
    "wheelbase_right": 97.1,
    "guide_lead": 112.5,
    "guide_depth": 6.8,
    "guide_flange_height": -0.4,
    "chassis_tail": 18.0,
    "ride_height_front": 1.02,
    "rake": -0.03,
}
CAR = CarFigures(values=VALUES)
DRAWERS = [draw_rear_view, draw_side_view]


def test_the_columns_of_these_tests_are_the_registry_s() -> None:
    assert VALUES.keys() <= set(COLUMNS)


def tyres(svg: str) -> list[list[tuple[float, float]]]:
    return [corners(e) for e in with_pen(svg, "d-rubber")]


def test_rear_view_is_to_scale() -> None:
    left, right = tyres(draw_rear_view(CAR))
    scale = math.dist(left[0], left[3]) / VALUES["tyre_diameter_rear_left"]
    assert math.dist(right[1], right[2]) / scale == pytest.approx(20.46, abs=0.01)
    assert math.dist(left[0], left[1]) / scale == pytest.approx(14.2, abs=0.01)
    middles = [sum(x for x, _ in tyre) / 4 for tyre in (left, right)]
    assert (middles[1] - middles[0]) / scale == pytest.approx(60.3, abs=0.02)


def test_rear_view_has_the_car_s_left_at_the_left() -> None:
    left, right = tyres(draw_rear_view(CAR))
    assert left[0][0] < right[0][0]
    assert math.dist(left[0], left[3]) > math.dist(right[0], right[3])


def test_rear_view_puts_both_tyres_on_the_block() -> None:
    svg = draw_rear_view(CAR)
    ground = corners(with_pen(svg, "d-ground")[0])[0][1]
    for tyre in tyres(svg):
        # The axle's slope, 0.08 in 22.4, lifts a corner by half a width of it.
        lift = 0.5 * 14.2 * 0.08 / 22.4 * 4.2
        assert max(y for _, y in tyre) == pytest.approx(ground, abs=lift + 0.02)


def test_rear_view_shows_the_axle_s_slope() -> None:
    left, right = tyres(draw_rear_view(CAR))
    scale = math.dist(left[0], left[3]) / 20.62
    heights = [-sum(y for _, y in tyre) / 4 / scale for tyre in (left, right)]
    # Over the block each centre is half its own tyre, whatever the chassis does.
    assert heights[0] - heights[1] == pytest.approx((20.62 - 20.46) / 2, abs=0.01)


def test_rear_view_draws_a_gap_true_and_calls_it_out() -> None:
    svg = draw_rear_view(CAR)
    assert "chassis 0.88" in words(svg)
    assert "gear 1.31" in words(svg)
    assert "motor 1.33" in words(svg)
    # Worked by hand: contacts 9.2 ± 30.15·0.08/22.4 − D/2 are −1.0023 and −1.1377;
    # their line is at −1.0262 under the chassis's left edge, 19.5 from the middle.
    left = tyres(svg)[0]
    scale = math.dist(left[0], left[3]) / 20.62
    ground = corners(with_pen(svg, "d-ground")[0])[0][1]
    chassis = corners(with_pen(svg, "d-tint")[0])
    lowest = max(y for _, y in chassis)
    assert (ground - lowest) / scale == pytest.approx(1.0262, abs=0.005)


def test_rear_view_without_a_clearance_puts_the_drawn_one_in_brackets() -> None:
    known = {k: v for k, v in VALUES.items() if k != "clearance_gear"}
    level = {**known, "axle_height_rear_left": 9.2, "axle_height_rear_right": 9.2}
    level |= {"tyre_diameter_rear_left": 20.6, "tyre_diameter_rear_right": 20.6}
    # Level car: half the tyre less half the gear, 10.3 - 8.95.
    assert "gear (1.35)" in words(draw_rear_view(CarFigures(values=level)))


def test_plane_given_is_the_plane_drawn() -> None:
    plane = (0.0, 0.0, -2.0)
    level = {k: v for k, v in VALUES.items() if not k.startswith("ride")}
    car = CarFigures(values=level, plane=plane)
    assert "chassis (2.00)" in words(draw_rear_view(car))
    assert "rear (2.00)" in words(draw_side_view(car))


def test_failing_figures_are_marked_by_a_cross_as_well() -> None:
    failing = frozenset({"clearance_gear", "width_rear", "tilt", "wheelbase_left"})
    car = CarFigures(values=VALUES, failing=failing)
    rear, side = draw_rear_view(car), draw_side_view(car)
    assert "gear 1.31 ×" in words(rear)
    assert "over tyres 74.50 ×" in words(rear)
    assert "wheelbase 97.20 / 97.10 ×" in words(side)
    assert "×" not in words(draw_rear_view(CAR))


@pytest.mark.parametrize("draw", DRAWERS)
def test_views_are_well_made(draw: type) -> None:
    assert_well_made(draw(CAR))
    for column in VALUES:
        rest = {k: v for k, v in VALUES.items() if k != column}
        assert_well_made(draw(CarFigures(values=rest)))


@pytest.mark.parametrize("draw", DRAWERS)
@pytest.mark.parametrize("column", sorted(VALUES))
def test_views_draw_what_alone_is_known(draw: type, column: str) -> None:
    svg = draw(CarFigures(values={column: VALUES[column]}))
    assert_well_made(svg)
    assert "Not known yet" in words(svg)


@pytest.mark.parametrize("draw", DRAWERS)
def test_views_take_nan_for_not_known(draw: type) -> None:
    nothing = CarFigures(values=dict.fromkeys(VALUES, math.nan))
    assert draw(nothing) == draw(CarFigures())


def test_views_say_the_same_in_words() -> None:
    assert "Left rear tyre 20.62 mm." in describe_rear_view(CAR)
    assert "Tilt 0.12 degrees, left side high positive." in describe_rear_view(CAR)
    assert "Wheelbase, left, 97.20 mm." in describe_side_view(CAR)
    assert "Rake −0.03 degrees, nose down positive." in describe_side_view(CAR)
    assert describe_rear_view(CarFigures())[-1].startswith("Not known yet: rear tyre")
    on_guide = describe_side_view(CarFigures(front_on_guide=True))[-1]
    assert "front" not in on_guide


def test_side_view_is_to_scale() -> None:
    svg = draw_side_view(CAR)
    circles = [e for e in with_pen(svg, "d-rubber") if e.tag.endswith("circle")]
    rear, front = ((float(e.get("cx", 0)), float(e.get("r", 0))) for e in circles)
    scale = rear[1] / (20.54 / 2)
    assert front[1] / scale == pytest.approx(18.29 / 2, abs=0.01)
    assert (rear[0] - front[0]) / scale == pytest.approx(97.15, abs=0.05)


def test_side_view_stands_on_its_wheels() -> None:
    svg = draw_side_view(CAR)
    ground = corners(with_pen(svg, "d-ground")[0])[0][1]
    for e in with_pen(svg, "d-rubber"):
        foot = float(e.get("cy", 0)) + float(e.get("r", 0))
        assert foot == pytest.approx(ground, abs=0.05)


def test_side_view_nose_down_has_its_nose_lower() -> None:
    low = {"axle_height_front_left": 9.0, "axle_height_front_right": 9.0}
    slope, _ = side_ground(CarFigures(values=VALUES | low)) or (0, 0)
    # Rake is atan a, nose-down positive: a front axle set higher over the datum.
    assert slope > 0
    level = rear_ground(CAR)
    assert level is not None


def test_side_view_on_the_guide_needs_no_front_wheels() -> None:
    values = {k: v for k, v in VALUES.items() if "front" not in k}
    car = CarFigures(values=values, front_on_guide=True)
    svg = draw_side_view(car)
    assert len(with_pen(svg, "d-rubber")) == 1
    assert "guide 112.50" in words(svg)
    slope, level = side_ground(car) or (0, 0)
    assert slope * 112.5 + level == pytest.approx(-0.4)


def test_taken_ride_height_alone_lays_the_ground() -> None:
    taken = CarFigures(values={"clearance_rear": 1.2, "wheelbase_left": 97.0})
    assert rear_ground(taken) == (0.0, -1.2)
    assert side_ground(taken) == (0.0, -1.2)
    both = CarFigures(
        values={
            "clearance_rear": 1.2,
            "wheelbase_left": 97.0,
            "ride_height_front": 0.9,
        }
    )
    slope, _ = side_ground(both) or (0, 0)
    assert slope == pytest.approx(0.3 / 97.0)


@pytest.mark.parametrize("slope", [-0.08, 0.0, 0.05])
def test_frame_measures_gaps_along_the_ground_s_normal(slope: float) -> None:
    frame = Frame(scale=4.0, origin=200, ground=150, slope=slope, level=-1.5)
    for across, up in ((0.0, 0.0), (25.0, 3.0), (-18.0, 0.7)):
        # Distance of a point from the line z = slope·y + level.
        distance = (up - slope * across + 1.5) / math.hypot(1, slope)
        assert frame.gap(across, up) == pytest.approx(distance)


def low_gear(value: float = 0.36) -> CarFigures:
    return CarFigures(
        values=VALUES | {"clearance_gear": value},
        failing=frozenset({"clearance_gear"}),
        limits={"clearance_gear": (0.6, None)},
    )


def test_narrow_view_has_letters_of_twelve_pixels_across_a_phone() -> None:
    # A phone is 390 wide, less 16 on either side.
    scale = (390 - 32) / NARROW
    for car in (CAR, low_gear()):
        svg = draw_rear_view(car, is_narrow=True)
        assert_well_made(svg)
        sizes = [float(one) for one in re.findall(r'font-size="([\d.]+)"', svg)]
        assert min(sizes) * scale >= 12


def test_narrow_view_magnifies_the_gap_that_fails_and_writes_its_scale() -> None:
    svg = draw_rear_view(low_gear(), is_narrow=True)
    (times,) = (int(n) for n in re.findall(r"(\d+) × larger", words(svg)))
    tyre = tyres(svg)[0]
    per_mm = times * math.dist(tyre[0], tyre[3]) / VALUES["tyre_diameter_rear_left"]
    ground = corners(with_pen(svg, "d-ground")[-1])[0][1]
    (limit,) = (corners(e)[0][1] for e in with_pen(svg, "d-flag"))
    assert (ground - limit) / per_mm == pytest.approx(0.6, abs=0.01)
    part = corners(with_pen(svg, "d-heavy")[-1])[0][1]
    assert (ground - part) / per_mm == pytest.approx(0.36, abs=0.01)
    for said in ("gear", "least", "0.60", "is 0.36"):
        assert said in words(svg)


def test_narrow_side_view_magnifies_the_gap_that_fails_at_its_end() -> None:
    car = CarFigures(
        values=VALUES | {"clearance_front": 0.62},
        failing=frozenset({"clearance_front"}),
        limits={"clearance_front": (0.8, None)},
    )
    svg = draw_side_view(car, is_narrow=True)
    assert_well_made(svg)
    said = words(svg)
    assert "larger" in said
    assert "is 0.62" in said
    assert "least" in said
    assert "front" in said
    assert [e for e in with_pen(svg, "d-heavy") if e.tag.endswith("circle")]
    assert "larger" not in words(draw_side_view(CAR, is_narrow=True))
    # A length that fails too has the whole width.
    both = replace(car, failing=car.failing | {"wheelbase_left"})
    assert "larger" not in words(draw_side_view(both, is_narrow=True))


def test_narrow_view_magnifies_nothing_that_passes_or_is_seen() -> None:
    seen = CarFigures(
        values=VALUES | {"clearance_gear": 2.4},
        failing=frozenset({"clearance_gear"}),
        limits={"clearance_gear": (2.6, None)},
    )
    for car in (CAR, seen):
        assert "larger" not in words(draw_rear_view(car, is_narrow=True))


def test_lifted_wheel_is_named_with_its_gap() -> None:
    # On the plane of its three lowest wheels, z = -1.1, the fourth hangs 0.5 higher.
    even = {
        "tyre_diameter_rear_left": 20.6,
        "tyre_diameter_rear_right": 20.6,
        "axle_height_rear_left": 9.2,
        "axle_height_rear_right": 9.2,
        "tyre_diameter_front_left": 18.4,
        "tyre_diameter_front_right": 17.4,
        "axle_height_front_left": 8.1,
        "axle_height_front_right": 8.1,
        "twist": 0.5,
    }
    car = CarFigures(
        values=VALUES | even,
        plane=(0.0, 0.0, -1.1),
        failing=frozenset({"twist"}),
        limits={"twist": (-0.3, 0.3)},
    )
    assert car.lifted_wheel() == "front right"
    said = words(draw_rear_view(car, is_narrow=True))
    for one in ("front right", "most", "0.30", "is 0.50"):
        assert one in said


def test_what_fails_is_heavy_with_its_limit_and_what_passes_is_faint() -> None:
    car = CarFigures(
        values=VALUES,
        failing=frozenset({"width_rear"}),
        limits={"width_rear": (None, 74.0)},
    )
    svg = draw_rear_view(car, is_narrow=True)
    assert "over tyres 74.50, most 74.00 ×" in words(svg)
    assert with_pen(svg, "d-heavy")
    assert 'class="draw has-failing"' in svg
    assert "has-failing" not in draw_rear_view(CAR, is_narrow=True)
