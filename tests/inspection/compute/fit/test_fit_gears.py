"""Gears and pinions against one car, from figures worked by hand."""

import math

import numpy as np
import pytest

from inspection.compute.fit import (
    Check,
    CheckState,
    Envelope,
    GearFit,
    RowsDisagreeError,
    best_first,
    gear_fit,
    pinion_fit,
)
from inspection.compute.what_if import Pinions
from inspection.words.fit import check_words, to_measure_words
from inventory.compute.gears.meshes import TeethError
from inventory.compute.stock.words import Fixing
from tests.inspection.compute.cars import make_rules
from tests.inspection.compute.fit.fit_cars import (
    ANGLEWINDER,
    CROWN,
    FLAT,
    IN_LINE,
    RULES,
    SIDEWINDER,
    SPUR,
    a_pinion,
    codes,
    column,
    field_of,
    gears,
    in_line,
    sidewinder,
)

ALPHA = math.radians(20)
NAN = math.nan


def found(fit: GearFit, check: Check, row: int = 0) -> tuple[CheckState, float, float]:
    at = fit.table.checks.index(check)
    state = tuple(CheckState)[fit.table.state[row, at]]
    return state, fit.table.value[row, at], fit.table.margin[row, at]


# The car: rear tyres of 20.00, level, so a gear clears by (20 - diameter) / 2 and
# 0.80 is asked; 9-tooth pinion of module 0.5, axle 2.38, slot 8.6 to 9.3, bar 9.2
# from the axle, 8.0 of room; ratio 2.5 to 4.0.  Worked by hand: half the sum of the
# pitch diameters is a = (9 + z) / 4, and 0.02 of backlash lies 0.02 / (2 tan 20)
# = 0.0275 further out.
HAND = [
    # gear                                     check              state  value  margin
    ({"teeth": 27.0}, Check.BORE, "holds", 0.02, 0.02),
    ({"teeth": 27.0}, Check.PITCH, "holds", 0.0, 0.5),
    ({"teeth": 27.0}, Check.GROUND, "holds", 2.75, 1.95),
    ({"teeth": 27.0}, Check.CHASSIS_BAR, "holds", 1.95, 1.65),
    ({"teeth": 27.0}, Check.ROOM, "holds", 6.0, 2.0),
    ({"teeth": 27.0}, Check.MESH, "holds", 0.02, 0.0),
    ({"teeth": 27.0}, Check.RATIO, "holds", 3.0, 0.5),
    ({"teeth": 27.0}, Check.TEETH, "holds", 27.0, 18.0),
    ({"teeth": 27.0}, Check.ROLLOUT, "holds", math.pi * 20 / 3, math.pi * 20 / 3 - 15),
    # The axle's centre 9.2 from the bar less 9.5 of gear; (20 - 19) / 2 below it.
    ({"teeth": 36.0}, Check.CHASSIS_BAR, "fails", -0.3, -0.6),
    ({"teeth": 36.0}, Check.GROUND, "fails", 0.5, -0.3),
    ({"teeth": 36.0}, Check.RATIO, "holds", 4.0, 0.0),
    # Exactly 0.8 below and 0.3 beside.
    (
        {"teeth": 27.0, "outside_diameter_mm": 18.4},
        Check.GROUND,
        "too close to call",
        0.8,
        0.0,
    ),
    ({"teeth": 30.0, "outside_diameter_mm": 17.8}, Check.CHASSIS_BAR, "holds", 0.3, 0),
    # Bores: 2.44 is 0.01 too loose for a screw, 2.37 tight.
    ({"teeth": 27.0, "bore_mm": 2.44}, Check.BORE, "fails", 0.06, -0.01),
    ({"teeth": 27.0, "bore_mm": 2.37}, Check.BORE, "fails", -0.01, -0.01),
    ({"teeth": 27.0, "bore_mm": 2.43}, Check.BORE, "holds", 0.05, 0.0),
    ({"teeth": 27.0, "bore_mm": NAN}, Check.BORE, "not measured", NAN, NAN),
    # 64 pitch on module 0.5 is 20.6 % off.
    ({"teeth": 27.0, "module_mm": 25.4 / 64}, Check.PITCH, "fails", 20.625, -20.125),
    ({"teeth": 27.0, "module_mm": 25.4 / 64}, Check.MESH, "not applicable", NAN, NAN),
    ({"teeth": 27.0, "hub_width_mm": 8.0}, Check.ROOM, "holds", 8.0, 0.0),
    ({"teeth": 27.0, "hub_width_mm": 8.1}, Check.ROOM, "fails", 8.1, -0.1),
    # A pinion larger than the gear.
    ({"teeth": 8.0}, Check.TEETH, "fails", 8.0, -1.0),
]  # fmt: skip


@pytest.mark.parametrize(("gear", "check", "state", "value", "margin"), HAND)
def test_checks_are_those_worked_by_hand(
    gear: dict[str, float], check: Check, state: str, value: float, margin: float
) -> None:
    fit = gear_fit(gears([gear]), sidewinder())
    got_state, got_value, got_margin = found(fit, check)
    assert got_state == state
    if state != "not applicable":
        assert got_value == pytest.approx(value, abs=1e-6, nan_ok=True)
        assert got_margin == pytest.approx(margin, abs=1e-6, nan_ok=True)


def backlash(tight_mm: float, at_mm: float) -> float:
    """Transverse backlash by the involute's definition, 20 degrees."""
    working = math.acos(tight_mm * math.cos(ALPHA) / at_mm)
    involutes = [math.tan(angle) - angle for angle in (working, ALPHA)]
    return 2 * at_mm * (involutes[0] - involutes[1])


@pytest.mark.parametrize(
    ("teeth", "state", "value"),
    [
        (24, "fails", backlash(8.25, 8.6)),  # 0.31: more than a quarter of the module
        (25, "holds", backlash(8.50, 8.6)),  # 0.08 at the slot's low end
        (26, "holds", 0.02),  # tight at 8.75, inside the slot
        (28, "holds", 0.02),  # 9.2775 is just inside
        (29, "fails", backlash(9.50, 9.3)),  # jammed at the slot's high end
    ],
)
def test_the_slot_decides_which_teeth_mesh(
    teeth: int, state: str, value: float
) -> None:
    got, at_best, _ = found(
        gear_fit(gears([{"teeth": float(teeth)}]), sidewinder()), Check.MESH
    )
    assert got == state
    assert at_best == pytest.approx(value, abs=1e-9)


def test_jammed_teeth_have_no_contact_ratio_to_check() -> None:
    fit = gear_fit(gears([{"teeth": 29.0}]), sidewinder())
    assert found(fit, Check.MESH)[0] is CheckState.FAILS
    assert found(fit, Check.CONTACT)[0] is CheckState.NOT_APPLICABLE


@pytest.mark.parametrize(
    ("teeth", "cut"),
    # C5-23: 7/28 and 8/28 generated by the rack of ISO 53; a distance a little above
    # the tight one takes some more.
    [(7.0, 0.823), (8.0, 0.913)],
)
def test_pinion_that_only_an_enlarged_one_could_be_warns_in_words(
    teeth: float, cut: float
) -> None:
    fit = gear_fit(gears([{"teeth": 28.0}]), sidewinder(pinion=a_pinion(teeth=teeth)))
    state, value, _ = found(fit, Check.CONTACT)
    assert state is CheckState.HOLDS
    assert 1.2 < value < 1.34
    state, value, _ = found(fit, Check.CONTACT_AS_CUT)
    assert state is CheckState.WARNS
    assert cut - 0.1 < value < cut + 0.001
    assert fit.fits[0]
    (row,) = (row for row in fit.rows(0) if row.check is Check.CONTACT_AS_CUT)
    assert "runs rough" in check_words(row)


def test_pinion_that_is_not_undercut_has_no_warning() -> None:
    room = {"slot_low_mm": 11.0, "slot_high_mm": 12.1}
    pinion = a_pinion(teeth=18.0)
    fit = gear_fit(gears([{"teeth": 28.0}]), sidewinder(pinion=pinion, mounting=room))
    rows = {row.check: row for row in fit.rows(0)}
    as_cut = rows[Check.CONTACT_AS_CUT]
    assert as_cut.state is CheckState.HOLDS
    assert as_cut.value == pytest.approx(rows[Check.CONTACT].value)
    assert check_words(as_cut).endswith("no limit; holds.")


def test_one_centre_distance_is_a_slot_too() -> None:
    fixed = {"slot_low_mm": 9.05, "slot_high_mm": 9.05}
    fit = gear_fit(
        gears([{"teeth": 27.0}, {"teeth": 28.0}]), sidewinder(mounting=fixed)
    )
    assert found(fit, Check.MESH, 0)[0] is CheckState.HOLDS
    assert found(fit, Check.MESH, 1)[0] is CheckState.FAILS


@pytest.mark.parametrize(
    ("fixing", "bore", "holds"),
    [
        (Fixing.PRESS, 2.28, True), (Fixing.PRESS, 2.38, True),
        (Fixing.PRESS, 2.27, False), (Fixing.PRESS, 2.39, False),
        (Fixing.SPLINED, 2.38, True), (Fixing.SPLINED, 2.50, False),
        (Fixing.SOLDERED, 2.40, True), (Fixing.SOLDERED, 2.00, False),
    ],
)  # fmt: skip
def test_each_fixing_wants_its_own_bore(
    fixing: Fixing,
    bore: float,
    holds: bool,  # noqa: FBT001
) -> None:
    table = gears([{"teeth": 27.0, "bore_mm": bore}], fixing=codes(fixing))
    state, _, _ = found(gear_fit(table, sidewinder()), Check.BORE)
    assert (state is CheckState.HOLDS) == holds


def test_one_family_runs_together_whatever_the_modules() -> None:
    pinion = Pinions(
        teeth=column(9.0), module_mm=column(0.4), family=np.array(["north"])
    )
    table = gears(
        [
            {"teeth": 36.0, "module_mm": 25.4 / 64},
            {"teeth": 36.0, "module_mm": 25.4 / 64},
            {"teeth": 36.0, "module_mm": math.nan, "outside_diameter_mm": 15.0},
            {"teeth": 36.0, "module_mm": math.nan, "outside_diameter_mm": 15.0},
        ],
        family=np.array(["north", "", "north", "south"]),
    )
    fit = gear_fit(table, sidewinder(pinion=pinion))
    states = [found(fit, Check.PITCH, row)[0] for row in range(4)]
    assert states == ["holds", "fails", "holds", "not measured"]
    assert found(fit, Check.MESH, 0)[0] is CheckState.HOLDS
    (row,) = (row for row in fit.rows(0) if row.check is Check.PITCH)
    assert "one family" in check_words(row)


def test_an_anglewinders_mesh_is_not_checked_and_said_so() -> None:
    fit = gear_fit(gears([{"teeth": 29.0}]), sidewinder({"layout": ANGLEWINDER}))
    rows = {row.check: row for row in fit.rows(0)}
    assert rows[Check.MESH].state is CheckState.NOT_CHECKED
    assert "crossed axes are not checked" in check_words(rows[Check.MESH])
    assert fit.fits[0]


@pytest.mark.parametrize(
    ("layout", "role"), [(SIDEWINDER, SPUR), (ANGLEWINDER, SPUR), (IN_LINE, CROWN)]
)
def test_each_layout_is_driven_by_its_own_kind_of_gear(
    layout: float, role: int
) -> None:
    """A crown meets a shaft that points at the axle; common practice, no source."""
    both = gears(
        [{"teeth": 27.0}, {"teeth": 27.0}], role=np.array([SPUR, CROWN], dtype=np.int8)
    )
    fit = gear_fit(both, sidewinder({"layout": layout}))
    found_of = {SPUR: found(fit, Check.KIND, 0)[0], CROWN: found(fit, Check.KIND, 1)[0]}
    assert [code for code, state in found_of.items() if state == "holds"] == [role]


def test_the_wrong_kind_of_gear_is_said_so() -> None:
    spur_in_line = gear_fit(gears([{"teeth": 27.0}]), in_line())
    assert found(spur_in_line, Check.KIND)[0] is CheckState.FAILS
    wrong = check_words(spur_in_line.rows(0)[0])
    assert wrong == "This is a spur; the car needs a crown."
    crown = gears([{"teeth": 27.0}], role=np.array([CROWN], dtype=np.int8))
    assert found(gear_fit(crown, sidewinder()), Check.KIND)[0] is CheckState.FAILS
    right = gear_fit(gears([{"teeth": 27.0}]), sidewinder())
    assert check_words(right.rows(0)[0]) == "This is a spur, as the car needs."


def crowns(*rows: dict[str, float]) -> GearFit:
    usual = {
        "teeth": 30.0,
        "module_mm": 0.5,
        "outside_diameter_mm": 17.0,
        "face_width_mm": 2.5,
        "crown_depth_mm": 3.0,
        "hub_width_mm": 5.0,
    }
    table = gears(
        [usual | row for row in rows],
        role=np.full(len(rows), CROWN, dtype=np.int8),
    )
    return gear_fit(table, in_line())


# In line: shaft axis to bearing 12.0, spacers 0.5, pinion 9 of module 0.5 with a
# face of 3 and a length of 4, shaft's end 5.5 ahead of the axle's centre and 6.0
# long, axle and shaft both 8.5 up.
CROWNS = [
    # 12 - (2.25 + 3 + 5 + 0.5)
    ({}, Check.CROWN_SEAT, "holds", 1.25, 1.25),
    ({"hub_width_mm": 6.3}, Check.CROWN_SEAT, "fails", -0.05, -0.05),
    # Teeth from 6.0 to 8.5; the pinion's 3.0 can lie over all 2.5 of them.
    ({}, Check.CROWN_FACE, "holds", 1.0, 0.2),
    # Teeth from 2.0 to 4.5, the shaft begins at 5.5.
    ({"outside_diameter_mm": 9.0}, Check.CROWN_FACE, "fails", 0.0, -0.8),
    # Teeth from 3.6 to 6.1: 0.6 of 2.5 covered.
    ({"outside_diameter_mm": 12.2}, Check.CROWN_FACE, "fails", 0.24, -0.56),
    # 5.5 less half the axle.
    ({}, Check.SHAFT_END, "holds", 4.31, 4.01),
    ({}, Check.MOTOR_AXLE_OFFSET, "holds", 0.0, 0.25),
    ({"design_offset_mm": 0.25}, Check.MOTOR_AXLE_OFFSET, "holds", -0.25, 0.0),
    ({"design_offset_mm": -0.3}, Check.MOTOR_AXLE_OFFSET, "fails", 0.3, -0.05),
    ({"cut_for_teeth": 9.0}, Check.CROWN_CUT, "holds", 9.0, 0.0),
    ({"cut_for_teeth": 8.0}, Check.CROWN_CUT, "fails", 8.0, -1.0),
    ({}, Check.CROWN_CUT, "not applicable", math.nan, math.nan),
    ({}, Check.MESH, "not applicable", math.nan, math.nan),
    ({}, Check.ROOM, "not applicable", math.nan, math.nan),
]


@pytest.mark.parametrize(("gear", "check", "state", "value", "margin"), CROWNS)
def test_crowns_are_those_worked_by_hand(
    gear: dict[str, float], check: Check, state: str, value: float, margin: float
) -> None:
    got_state, got_value, got_margin = found(crowns(gear), check)
    assert got_state == state
    if state != "not applicable":
        assert got_value == pytest.approx(value, abs=1e-6)
        assert got_margin == pytest.approx(margin, abs=1e-6)


def test_a_fitting_crown_fits_and_the_class_sets_its_own_offset() -> None:
    assert crowns({}).fits[0]
    table = gears(
        [{"teeth": 30.0, "design_offset_mm": 0.4}],
        role=np.array([CROWN], dtype=np.int8),
    )
    wide = RULES | {"motor_axle_offset": (-0.5, 0.5)}
    assert found(gear_fit(table, in_line()), Check.MOTOR_AXLE_OFFSET)[0] == "fails"
    fit = gear_fit(table, in_line(rules=wide))
    assert found(fit, Check.MOTOR_AXLE_OFFSET)[0] == "holds"


def test_room_in_line_counts_where_it_was_measured() -> None:
    table = gears([{"teeth": 30.0}], role=np.array([CROWN], dtype=np.int8))
    fit = gear_fit(table, in_line(mounting={"axle_room_mm": 5.0}))
    assert found(fit, Check.ROOM)[0] is CheckState.FAILS


def test_what_fits_comes_first_then_the_least_change_of_rollout() -> None:
    fit = gear_fit(
        gears([{"teeth": 36.0}, {"teeth": 26.0}, {"teeth": 28.0}, {"teeth": 27.0}]),
        sidewinder(),
    )
    assert fit.fits.tolist() == [False, True, True, True]
    assert best_first(fit).tolist() == [3, 2, 1, 0]
    # From 27 teeth to 26 a motor turn goes 27 / 26 as far.
    assert fit.rollout_change_percent[1] == pytest.approx(100 * (27 / 26 - 1))
    assert fit.rollout_mm[3] == pytest.approx(math.pi * 20 / 3)
    assert fit.ratio[0] == pytest.approx(4.0)


def test_a_rollout_change_not_known_comes_last() -> None:
    values = {"teeth_gear": math.nan}
    fit = gear_fit(gears([{"teeth": 27.0}, {"teeth": 28.0}]), sidewinder(values))
    assert np.isnan(fit.rollout_change_percent).all()
    assert best_first(fit).tolist() == [0, 1]


def test_missing_geometry_is_not_measured_and_named() -> None:
    envelope = sidewinder(
        {"gear_position_y": math.nan, "axle_diameter": math.nan},
        mounting={"axle_to_bar_mm": math.nan, "slot_low_mm": math.nan},
    )
    fit = gear_fit(gears([{"teeth": 27.0}]), envelope)
    assert not fit.fits[0]
    for check in (Check.GROUND, Check.CHASSIS_BAR, Check.MESH, Check.BORE):
        assert found(fit, check)[0] is CheckState.NOT_MEASURED
    text = "; ".join(map(to_measure_words, fit.to_measure))
    assert "gear left of the middle" in text
    assert "chassis bar" in text
    assert "slot" in text
    (row,) = (row for row in fit.rows(0) if row.check is Check.GROUND)
    assert check_words(row) == (
        "Clearance over the track: not known yet. Measure gear left of the middle."
    )


def test_a_gear_not_measured_is_asked_for_by_name() -> None:
    fit = gear_fit(
        gears([{"teeth": 27.0, "outside_diameter_mm": math.nan}]), sidewinder()
    )
    assert "the gear over its teeth" in map(to_measure_words, fit.to_measure)


@pytest.mark.parametrize("teeth", [0.0, 3.0, 2000.0])
def test_teeth_of_no_gear_are_refused(teeth: float) -> None:
    with pytest.raises(TeethError, match=f"{teeth:g} teeth"):
        gear_fit(gears([{"teeth": teeth}]), sidewinder())


def test_teeth_not_counted_are_not_measured() -> None:
    table = gears([{"teeth": math.nan, "outside_diameter_mm": 14.5}])
    fit = gear_fit(table, sidewinder())
    assert found(fit, Check.TEETH)[0] is CheckState.NOT_MEASURED
    assert found(fit, Check.MESH)[0] is CheckState.NOT_MEASURED


def many_cars() -> Envelope:
    """Three cars of one rulebook: small tyres, another layout, and the usual."""
    cars = field_of(
        [
            FLAT | {"tyre_diameter_rear_left": 15.0, "tyre_diameter_rear_right": 15.0},
            FLAT | {"layout": 0.0},
            FLAT,
        ]
    )
    one = sidewinder()
    return Envelope(
        car=cars,
        rulebook=make_rules(cars, RULES),
        mounting=one.mounting,
        pinion=one.pinion,
        motor=one.motor,
    )


def test_a_gear_is_set_against_many_cars() -> None:
    fit = gear_fit(gears([{"teeth": 27.0}]), many_cars())
    assert fit.fits.tolist() == [False, False, True]
    assert found(fit, Check.GROUND, 0)[0] is CheckState.FAILS
    assert found(fit, Check.KIND, 1)[0] is CheckState.FAILS
    assert found(fit, Check.MESH, 1)[0] is CheckState.NOT_APPLICABLE
    assert fit.rows(2)[0].check is Check.KIND


def test_many_gears_against_another_number_of_cars_are_refused() -> None:
    with pytest.raises(RowsDisagreeError) as refusal:
        gear_fit(gears([{"teeth": 27.0}, {"teeth": 28.0}]), many_cars())
    assert refusal.value.code == "rows_disagree"


def test_a_clearance_taken_under_the_gear_shifts_the_derived_one() -> None:
    # Derived 2.75 under the present 14.5, taken 2.70: all gears come out 0.05 less.
    fit = gear_fit(
        gears([{"teeth": 27.0}, {"teeth": 31.0}]), sidewinder({"clearance_gear": 2.70})
    )
    assert found(fit, Check.GROUND, 0)[1] == pytest.approx(2.70)
    assert found(fit, Check.GROUND, 1)[1] == pytest.approx(1.70)


def test_a_clearance_taken_where_nothing_can_be_derived_counts_as_level() -> None:
    envelope = sidewinder({"clearance_gear": 2.70, "wheelbase_left": math.nan})
    fit = gear_fit(gears([{"teeth": 31.0}]), envelope)
    # A gear 2 mm larger hangs 1 mm lower.
    assert found(fit, Check.GROUND)[1] == pytest.approx(1.70)


def test_without_rules_a_gear_still_may_not_touch_the_track() -> None:
    envelope = sidewinder(rules={"weight_car": (100.0, None)})
    fit = gear_fit(
        gears([{"teeth": 27.0, "outside_diameter_mm": d} for d in (20.0, 20.1)]),
        envelope,
    )
    # It only just clears: nobody asked by how much, so nothing is said to hold.
    (row,) = (one for one in fit.rows(0) if one.check is Check.GROUND)
    assert row.state is CheckState.NOT_CHECKED
    assert check_words(row) == (
        "Clearance over the track: 0.00 mm, no limit; no least gap is asked for, so "
        "it is not checked."
    )
    assert found(fit, Check.GROUND, 1)[0] is CheckState.FAILS
    assert found(fit, Check.RATIO)[0] is CheckState.NOT_APPLICABLE


def test_rounding_crosses_no_limit_in_a_sentence() -> None:
    """Half of 19.0008 below 10.0: 0.4996 over the track, 0.0004 too little."""
    car = sidewinder(rules={"clearance_gear": (0.5, None)})
    (row,) = (
        one
        for one in gear_fit(
            gears([{"teeth": 36.0, "outside_diameter_mm": 19.0008}]),
            car,
        ).rows(0)
        if one.check is Check.GROUND
    )
    assert check_words(row).startswith(
        "Clearance over the track: 0.4996 mm, at least 0.50 mm; 0.0004 mm outside, "
    )
    assert check_words(row).endswith(": too close to call.")


def test_every_row_has_a_sentence_with_its_figures() -> None:
    rows = {
        row.check: row
        for row in gear_fit(gears([{"teeth": 36.0}]), sidewinder()).rows(0)
    }
    ground = rows[Check.GROUND]
    assert check_words(ground) == (
        "Clearance over the track: 0.50 mm, at least 0.80 mm; 0.30 mm outside."
    )
    assert ground.limit == pytest.approx(0.8)
    # Of two limits the nearer.
    assert rows[Check.RATIO].limit == pytest.approx(4.0)
    assert check_words(rows[Check.ROOM]) == (
        "Hub width on the axle: 6.00 mm, at most 8.00 mm; 2.00 mm to spare."
    )
    assert check_words(rows[Check.BORE]) == (
        "Bore over shaft: 0.02 mm, 0.00 to 0.05 mm wanted; 0.02 mm to spare."
    )
    assert check_words(rows[Check.TEETH]) == (
        "Teeth of the gear: 36 teeth, at least 9 teeth; 27 teeth to spare."
    )


# Pinions: the motor's shaft is 1.50 and 6.0 long, pressed on.
PINIONS = [
    ({}, Check.BORE, "holds", 0.0, 0.0),
    ({"bore_mm": 1.45}, Check.BORE, "holds", -0.05, 0.05),
    ({"bore_mm": 2.0}, Check.BORE, "fails", 0.5, -0.5),
    ({"length_mm": 6.5}, Check.PINION_LENGTH, "fails", 6.5, -0.5),
    ({}, Check.PINION_LENGTH, "holds", 4.0, 2.0),
    ({"module_mm": 0.4}, Check.PITCH, "fails", 25.0, -24.5),
    ({"teeth": 28.0}, Check.TEETH, "fails", 27.0, -1.0),
    ({"teeth": 8.0}, Check.RATIO, "holds", 27 / 8, 4 - 27 / 8),
    ({"teeth": 6.0}, Check.RATIO, "fails", 4.5, -0.5),
]


@pytest.mark.parametrize(("pinion", "check", "state", "value", "margin"), PINIONS)
def test_pinions_are_those_worked_by_hand(
    pinion: dict[str, float], check: Check, state: str, value: float, margin: float
) -> None:
    envelope = sidewinder()
    gear = gears([{"teeth": 27.0}])
    with_gear = Envelope(
        car=envelope.car,
        rulebook=envelope.rulebook,
        mounting=envelope.mounting,
        gear=gear,
        pinion=envelope.pinion,
        motor=envelope.motor,
    )
    got_state, got_value, got_margin = found(
        pinion_fit(a_pinion(**pinion), with_gear), check
    )
    assert got_state == state
    assert got_value == pytest.approx(value, abs=1e-6)
    assert got_margin == pytest.approx(margin, abs=1e-6)


def test_limits_are_tables_of_parts_by_checks() -> None:
    fit = gear_fit(gears([{"teeth": 27.0}, {"teeth": 36.0}]), sidewinder())
    at = fit.table.checks.index(Check.RATIO)
    assert fit.table.lower[:, at].tolist() == [2.5, 2.5]
    assert fit.table.upper[:, at].tolist() == [4.0, 4.0]
    assert fit.table.margin.shape == fit.table.state.shape == (2, len(fit.table.checks))


def test_a_car_that_has_no_gear_yet_is_checked_all_the_same() -> None:
    car = field_of([{k: v for k, v in FLAT.items() if k != "gear_diameter"}])
    bare = sidewinder()
    envelope = Envelope(
        car=car,
        rulebook=make_rules(car, RULES),
        mounting=bare.mounting,
        pinion=bare.pinion,
    )
    assert found(gear_fit(gears([{"teeth": 27.0}]), envelope), Check.GROUND)[1] == (
        pytest.approx(2.75)
    )
