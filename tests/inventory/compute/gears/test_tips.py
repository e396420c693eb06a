"""Jaws over the tips, against an outlined involute gear turned between planes."""

import math

import numpy as np
import pytest

from inventory.compute.gears import (
    PITCHES,
    identify_pitch,
    spur,
    tip_form_u_mm,
    true_outside_diameter_mm,
)
from inventory.compute.gears.spurs import NotALengthError, TeethError
from tests.inventory.compute.gears.outlines import tip_points, widths

PITCH_64 = 25.4 / 64


def pointed(reading: float, teeth: int) -> float:
    """Give the true diameter if the teeth came to points."""
    return 2 * reading / (1 + math.cos(math.pi / teeth))


@pytest.mark.parametrize("teeth", [7, 9, 11, 13, 27, 33])
def test_least_reading_of_an_odd_count_is_the_true_diameter(teeth: int) -> None:
    tip = spur(teeth, module_mm=0.5).tip_diameter_mm
    least = float(widths(tip_points(teeth=teeth, module=0.5), teeth=teeth).min())
    assert true_outside_diameter_mm(least, teeth) == pytest.approx(tip, abs=2e-6)


@pytest.mark.parametrize(
    ("teeth", "per_inch", "tip", "reading"),
    # C5-40 and C5-41, an outlined involute turned between planes.
    [(9, 64, 4.36562, 4.26970), (11, 48, 6.8792, 6.7814)],
)
def test_published_readings(
    teeth: int, per_inch: int, tip: float, reading: float
) -> None:
    read = widths(tip_points(teeth=teeth, module=25.4 / per_inch), teeth=teeth)
    assert read.min() == pytest.approx(reading, abs=6e-5)
    assert true_outside_diameter_mm(reading, teeth) == pytest.approx(tip, abs=6e-5)


def test_reading_of_a_pinion_not_as_standard() -> None:
    # C5-41: a reading of 6.740 is 6.837.
    assert true_outside_diameter_mm(6.740, 11) == pytest.approx(6.837, abs=6e-4)


def test_odd_reads_least_and_even_reads_largest() -> None:
    # C5-40 and C5-42: what comes of not rocking the gear.
    odd = widths(tip_points(teeth=9, module=PITCH_64), teeth=9)
    assert odd.max() == pytest.approx(4.333, abs=6e-4)
    for teeth, largest, other in ((8, 3.969, 3.743), (10, 4.762, 4.596)):
        even = widths(tip_points(teeth=teeth, module=PITCH_64), teeth=teeth)
        assert even.max() == pytest.approx(largest, abs=6e-4)
        assert even.min() == pytest.approx(other, abs=6e-4)
        assert true_outside_diameter_mm(largest, teeth) == largest


def test_perfect_pinion_of_nine_is_named_by_its_pitch() -> None:
    # It read 4.270 and was called module 0.4: pointed teeth of 4.40.
    true, u = true_outside_diameter_mm(4.270, 9), tip_form_u_mm(4.270, 9)
    best = identify_pitch(9, outside_diameter_mm=true, u_mm=math.hypot(0.0115, u))[0]
    assert best.name == "64 pitch"


@pytest.mark.parametrize("teeth", [7, 9, 11, 13])
@pytest.mark.parametrize(
    ("name", "module"), [(pitch.name, pitch.module_mm) for pitch in PITCHES]
)
def test_perfect_pinion_of_every_pitch_is_named_by_it(
    name: str, module: float, teeth: int
) -> None:
    read = widths(tip_points(teeth=teeth, module=module), teeth=teeth).min()
    true = float(true_outside_diameter_mm(float(read), teeth))
    form = tip_form_u_mm(float(read), teeth)
    found = identify_pitch(
        teeth, outside_diameter_mm=true, u_mm=math.hypot(0.0115, form)
    )
    assert found[0].name == name


@pytest.mark.parametrize(
    ("teeth", "module", "shift", "low_by"),
    # C5-43: the standard tip land on an enlarged pinion.
    [
        (9, PITCH_64, 0.2, 0.010),
        (9, PITCH_64, 0.474, 0.028),
        (11, 25.4 / 48, 0.357, 0.018),
    ],
)
def test_enlarged_pinion_reads_low_by_no_more_than_pointed_teeth(
    teeth: int, module: float, shift: float, low_by: float
) -> None:
    tip = spur(teeth, module_mm=module, shift=shift).tip_diameter_mm
    points = tip_points(teeth=teeth, module=module, shift=shift)
    read = float(widths(points, teeth=teeth).min())
    true = float(true_outside_diameter_mm(read, teeth))
    assert tip - true == pytest.approx(low_by, abs=6e-4)
    assert true < tip < pointed(read, teeth)


def test_doubt_is_the_root_mean_square_of_what_lies_between() -> None:
    read, teeth = 4.270, 9
    value = float(true_outside_diameter_mm(read, teeth))
    between = np.random.default_rng(1).uniform(value, pointed(read, teeth), 400_000)
    u = math.sqrt(float(np.mean((between - value) ** 2)))
    assert tip_form_u_mm(read, teeth) == pytest.approx(u, rel=2e-3)
    # 0.58 of the difference, as one over the root of three.
    share = tip_form_u_mm(read, teeth) / (pointed(read, teeth) - value)
    assert share == pytest.approx(0.577, abs=5e-4)


def test_even_counts_are_true_and_in_no_doubt_in_arrays_too() -> None:
    true = true_outside_diameter_mm([6.740, 6.740], [11, 12])
    assert true == pytest.approx([6.837, 6.740], abs=6e-4)
    assert tip_form_u_mm([6.740, 6.740], [11, 12])[1] == pytest.approx(0.0, abs=0.0)


def test_what_is_no_gear_is_refused() -> None:
    for ask in (true_outside_diameter_mm, tip_form_u_mm):
        with pytest.raises(TeethError):
            ask(6.0, 3)
        with pytest.raises(NotALengthError):
            ask(-1.0, 9)
