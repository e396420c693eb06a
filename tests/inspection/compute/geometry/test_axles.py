"""Axles, against the handbook's definitions and plain geometry."""

import math

import numpy as np
import pytest

from inspection.compute.geometry.axles import (
    axle_drift_mm_per_metre,
    axle_level_mm,
    axle_square_deg,
    guide_contact_mm,
    height_at_mm,
    motor_axle_offset_mm,
    wheel_contacts_mm,
)


def test_height_at_the_stations_is_what_was_measured() -> None:
    for y, height in ((20.0, 9.67), (-20.0, 9.54), (0.0, 9.605)):
        found = height_at_mm([9.67, 9.54], span_mm=40.0, y_mm=y)
        assert found == pytest.approx(height)


def test_height_at_each_car_has_its_own_span_and_place() -> None:
    found = height_at_mm([[9.0, 8.0], [9.0, 8.0]], span_mm=[40, 20], y_mm=[40, 10])
    np.testing.assert_allclose(found, [9.5, 9.0])


def test_wheel_contacts_are_below_the_extended_axle_by_half_the_tyre() -> None:
    found = wheel_contacts_mm(
        [[0.0, 0.0], [95.0, 96.0]],
        height_mm=[[8.6, 8.4], [7.5, 7.5]],
        span_mm=[40.0, 30.0],
        track_mm=[60.0, 56.0],
        diameter_mm=[[20.4, 20.2], [18.0, 17.8]],
    )
    # The first axle drops 0.2 in 40, so 0.3 in 60: 8.65 and 8.35 at the tyres.
    np.testing.assert_allclose(
        found,
        [
            [[0, 30, 8.65 - 10.2], [0, -30, 8.35 - 10.1]],
            [[95, 28, 7.5 - 9.0], [96, -28, 7.5 - 8.9]],
        ],
    )


def test_wheel_contacts_soft_tyre_sinks() -> None:
    found = wheel_contacts_mm(
        0.0,
        height_mm=[[8.5, 8.5]],
        span_mm=40.0,
        track_mm=60.0,
        diameter_mm=[[20.4, 20.4]],
        sink_mm=[[0.03, 0.0]],
    )
    np.testing.assert_allclose(found[0, :, 2], [-1.67, -1.70])


def test_guide_contact_is_one_contact_a_car_in_the_middle() -> None:
    found = guide_contact_mm(110.0, z_mm=[-1.2, -1.0])
    np.testing.assert_allclose(found, [[[110, 0, -1.2]], [[110, 0, -1.0]]])


def test_axle_level_is_taken_to_the_wheels() -> None:
    """Common practice, no source: heights 9.54 and 9.67 are 0.13 out of level."""
    assert axle_level_mm([9.67, 9.54], span_mm=60, track_mm=60) == pytest.approx(0.13)
    assert axle_level_mm([9.54, 9.67], span_mm=40, track_mm=60) == pytest.approx(-0.195)


def test_axle_square_left_end_further_back_is_positive_and_rolls_left() -> None:
    """Roll 1 m ahead along the turned axle's own direction, and see where it ends."""
    left, right, span = 96.0, 95.0, 50.0
    # Axle from the right end to the left one, x forward, y left; the reference is
    # ahead, so that a longer distance is further back.
    axle = np.array([-(left - right), span])
    rolls = np.array([axle[1], -axle[0]])
    angle = axle_square_deg([left, right], span_mm=span)
    assert angle == pytest.approx(math.degrees(math.atan2(rolls[1], rolls[0])))
    assert angle > 0
    drift = axle_drift_mm_per_metre([left, right], span_mm=span)
    assert drift == pytest.approx(1000 * rolls[1] / rolls[0])


def test_axle_square_equal_distances_are_square() -> None:
    square = [[95.0, 95.0]]
    assert axle_square_deg(square, span_mm=50.0).tolist() == [0.0]
    assert axle_drift_mm_per_metre(square, span_mm=50.0).tolist() == [0.0]


def test_motor_axle_offset_in_line_is_nought() -> None:
    """Common practice, no source: can 16.6, so the shaft at 8.30 on the datum."""
    heights = [[8.30, 8.30], [8.35, 8.45], [8.30, 8.30]]
    found = motor_axle_offset_mm(
        heights, motor_axis_mm=16.6 / 2, gear_offset_mm=[0.0, 0.0, 1.5]
    )
    np.testing.assert_allclose(found, [0.0, 0.1, -1.5], atol=1e-12)
