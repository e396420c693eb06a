"""The jig sheet: what to set up, and what it gives."""

import math

import pytest

from inspection.compute.jig.set_up import (
    GearLimit,
    JigSetUp,
    NotAJigSizeError,
    NotAShimError,
    jig_sheet,
    largest_level_gear,
    level_gear_clearance_mm,
    spacer_mm,
)
from inspection.words.jig import set_up_words


def set_up(**sizes: object) -> JigSetUp:
    # The level car: common practice, no source.
    usual = {
        "jig_tyre_diameter_mm": 17.6,
        "race_tyre_diameter_mm": 19.5,
        "can_height_mm": 16.6,
    }
    return JigSetUp(**(usual | sizes))  # type: ignore[arg-type]


def test_spacer_of_the_usual_jig() -> None:
    # 17.6 and 16.6 give 0.50: common practice, no source.
    assert spacer_mm(jig_tyre_diameter_mm=17.6, can_height_mm=16.6) == pytest.approx(
        0.5
    )


def test_lift_and_offset_take_from_the_spacer() -> None:
    # By hand: 8.8 - (0.2 + 8.3 + 0.1).
    spacer = spacer_mm(
        jig_tyre_diameter_mm=17.6,
        can_height_mm=16.6,
        motor_lift_mm=0.2,
        axle_offset_mm=0.1,
    )
    assert spacer == pytest.approx(0.2)


def test_sheet_of_the_level_car() -> None:
    # Motor axis 8.30; 1.45 at the rear on 19.5; a gear of 17.6 clears by 0.95:
    # common practice, no source.
    sheet = jig_sheet(set_up(shims_mm=(0.1, 0.2, 0.25, 0.3)))
    assert sheet.axle_height_mm == pytest.approx(8.30)
    assert sheet.rear_clearance_mm == pytest.approx(1.45)
    assert level_gear_clearance_mm(
        tyre_diameter_mm=19.5, gear_diameter_mm=17.6
    ) == pytest.approx(0.95)
    assert sheet.stack is not None
    assert sheet.stack.shims_mm == (0.3, 0.2)
    assert set_up_words(sheet) == (
        "Set 0.50 mm under the flat of the chassis.",
        "Stack 0.3 + 0.2: 0.50 mm.",
    )


def test_largest_gear_leaves_the_limit_below_it() -> None:
    largest = largest_level_gear(set_up(least_gear_clearance_mm=0.8))
    assert largest is not None
    assert largest.governs is GearLimit.GROUND
    assert level_gear_clearance_mm(
        tyre_diameter_mm=19.5, gear_diameter_mm=largest.outside_diameter_mm
    ) == pytest.approx(0.8)


def test_without_a_least_gap_or_a_bar_no_gear_is_said_to_be_the_largest() -> None:
    assert largest_level_gear(set_up()) is None
    bar_alone = largest_level_gear(set_up(axle_to_bar_mm=9.0))
    assert bar_alone is not None
    assert bar_alone.governs is GearLimit.CHASSIS_BAR


@pytest.mark.parametrize(
    ("bar", "diameter", "governs"),
    [
        (9.0, 17.4, GearLimit.CHASSIS_BAR),  # 2 (9.0 - 0.3)
        (9.3, 17.9, GearLimit.GROUND),  # 18.0 at the bar, 17.9 over the ground
        (9.25, 17.9, GearLimit.GROUND),  # both alike
    ],
)
def test_bar_or_ground_governs(bar: float, diameter: float, governs: GearLimit) -> None:
    largest = jig_sheet(
        set_up(least_gear_clearance_mm=0.8, axle_to_bar_mm=bar)
    ).largest_gear
    assert largest is not None
    assert largest.outside_diameter_mm == pytest.approx(diameter)
    assert largest.governs is governs


def test_too_small_jig_tyres_are_said_so_with_the_size_needed() -> None:
    sheet = jig_sheet(set_up(jig_tyre_diameter_mm=16.0, shims_mm=(0.1,)))
    assert sheet.spacer_mm == pytest.approx(-0.3)
    assert sheet.stack is None
    (advice,) = set_up_words(sheet)
    assert advice.startswith("The jig tyres are too small by 0.60 mm")
    assert advice.endswith("tyres of at least 16.60 mm are needed.")


@pytest.mark.parametrize(
    ("shims", "sentence"),
    [
        ((0.45,), "Stack 0.45: 0.45 mm, 0.05 mm short."),
        ((0.53,), "Stack 0.53: 0.53 mm, 0.03 mm over."),
        ((1.2,), "Stack no shim: 0.00 mm, 0.50 mm short."),
    ],
)
def test_what_is_stacked_is_what_the_jig_gives(
    shims: tuple[float, ...], sentence: str
) -> None:
    """The axle over the flat is half the jig's tyre less what lies under the flat."""
    sheet = jig_sheet(set_up(shims_mm=shims))
    stacked = float(sentence.split(": ")[1].split(maxsplit=1)[0])
    assert sheet.axle_height_mm == pytest.approx(17.6 / 2 - stacked)
    assert sheet.rear_clearance_mm == pytest.approx(19.5 / 2 - (17.6 / 2 - stacked))


@pytest.mark.parametrize(
    ("shims", "sentence"),
    [
        ((0.45,), "Stack 0.45: 0.45 mm, 0.05 mm short."),
        ((0.53,), "Stack 0.53: 0.53 mm, 0.03 mm over."),
        ((1.2,), "Stack no shim: 0.00 mm, 0.50 mm short."),
    ],
)
def test_a_stack_that_misses_says_by_how_much(
    shims: tuple[float, ...], sentence: str
) -> None:
    assert set_up_words(jig_sheet(set_up(shims_mm=shims)))[1] == sentence


def test_without_a_box_of_shims_there_is_no_stack() -> None:
    sheet = jig_sheet(set_up())
    assert sheet.stack is None
    assert len(set_up_words(sheet)) == 1


def test_two_stacks_share_the_box() -> None:
    sheet = jig_sheet(set_up(shims_mm=(0.5, 0.2, 0.2, 0.3, 0.3), stacks=2))
    assert sheet.stack is not None
    assert sheet.stack.shims_mm == (0.3, 0.2)


@pytest.mark.parametrize("bad", [0.0, -17.6, math.nan, math.inf])
@pytest.mark.parametrize(
    "name", ["jig_tyre_diameter_mm", "race_tyre_diameter_mm", "can_height_mm"]
)
def test_a_size_that_is_none_is_refused(name: str, bad: float) -> None:
    with pytest.raises(NotAJigSizeError, match=r"positive") as refusal:
        jig_sheet(set_up(**{name: bad}))
    assert refusal.value.code == "not_a_jig_size"


def test_a_figure_that_is_no_number_is_refused() -> None:
    with pytest.raises(NotAJigSizeError, match="number"):
        jig_sheet(set_up(motor_lift_mm=math.nan))
    with pytest.raises(NotAJigSizeError):
        level_gear_clearance_mm(tyre_diameter_mm=19.5, gear_diameter_mm=0.0)
    with pytest.raises(NotAShimError):
        jig_sheet(set_up(shims_mm=(0.0,)))
