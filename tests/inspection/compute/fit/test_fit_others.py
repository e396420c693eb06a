"""Tyres and motors against one car, the sizes it takes, and which cars take a part."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pytest

from inspection.compute.fit import (
    Check,
    CheckRow,
    CheckState,
    Envelope,
    EnvelopeShapeError,
    GearFit,
    MotorFit,
    Mounting,
    NoLayoutError,
    NoSuchRowError,
    NotMeasuredError,
    RowsDisagreeError,
    TyreFit,
    best_first,
    gear_fit,
    largest_gear,
    motor_fit,
    pinion_fit,
    smallest_tyre,
    tyre_fit,
)
from inspection.compute.judging.evaluation import evaluate
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.quantities import FrontCarrier
from inspection.compute.what_if import Pairs, UnevenTableError
from inspection.compute.what_if.changed_cars import Masses
from inspection.compute.what_if.legality import NotOneCarError
from inspection.compute.what_if.part_tables import Gears, stacked
from inspection.compute.what_if.tyre_sizes import legal_tyre_sizes
from inspection.compute.what_if.wear_limits import wear_limit
from inspection.words.fit import check_words
from inspection.words.rooms import HOW_TAKEN
from inventory.compute.numbers import round_down, round_up
from tests.inspection.compute.cars import make_rules
from tests.inspection.compute.fit.fit_cars import (
    FLAT,
    IN_LINE,
    RULES,
    a_motor,
    a_pinion,
    column,
    doubt,
    field_of,
    gears,
    in_line,
    one_car,
    sidewinder,
)


def pairs(*rows: tuple[float, float], **sizes: float) -> Pairs:
    usual = {"width_mm": 16.0, "bore_mm": 2.40} | sizes
    left, right = zip(*rows, strict=True)
    return Pairs(
        left_diameter_mm=column(*left),
        right_diameter_mm=column(*right),
        width_mm=column(usual["width_mm"]),
        bore_mm=column(usual["bore_mm"]),
    )


def found(
    fit: TyreFit | MotorFit, check: Check, row: int = 0, *, rule: int | None = None
) -> tuple[CheckState, float, float]:
    at = next(
        place
        for place, one in enumerate(fit.table.columns)
        if one.check is check and one.rule == rule
    )
    state = tuple(CheckState)[fit.table.state[row, at]]
    return state, fit.table.value[row, at], fit.table.margin[row, at]


TYRE_RULES: dict[str, tuple[float | None, float | None]] = {
    "clearance_gear": (0.8, None),
    "tyre_diameter_rear": (18.5, 20.5),
    "tyre_mismatch_rear": (-0.1, 0.1),
    "width_rear": (None, 77.0),
    "weight_car": (180.0, None),
    "clearance_front": (0.5, None),
    "teeth_gear": (20.0, None),
}


@pytest.mark.parametrize(
    ("tyres", "sizes", "rule", "state", "value", "margin"),
    [
        # A gear of 14.5 under tyres of 20.2, 60 from middle to middle; the middle of
        # the axle is 10.1 up.
        ((20.2, 20.2), {}, 0, "holds", 2.85, 2.05),
        ((20.2, 20.2), {}, 1, "holds", 20.2, 0.3),
        ((20.6, 20.6), {}, 1, "fails", 20.6, -0.1),
        # The right one is the one out of limits.
        ((18.5, 18.4), {}, 1, "fails", 18.4, -0.1),
        ((20.2, 20.1), {}, 2, "holds", 0.1, 0.0),
        ((20.2, 20.05), {}, 2, "fails", 0.15, -0.05),
        # Width over the tyres: 60 and twice half a tyre.
        ((20.2, 20.2), {"width_mm": 16.5}, 3, "holds", 76.5, 0.5),
        ((20.2, 20.2), {"width_mm": 17.2}, 3, "fails", 77.2, -0.2),
    ],
)
def test_rules_on_tyres_are_those_worked_by_hand(
    tyres: tuple[float, float],
    sizes: dict[str, float],
    rule: int,
    state: str,
    value: float,
    margin: float,
) -> None:
    fit = tyre_fit(pairs(tyres, **sizes), sidewinder(rules=TYRE_RULES))
    got = found(fit, Check.RULE, rule=rule)
    assert got[0] == state
    # Rear up by 0.1 over 95 of wheelbase makes the rest square to the ground.
    assert got[1] == pytest.approx(value, abs=2e-5)
    assert got[2] == pytest.approx(margin, abs=2e-5)


def test_rules_that_tyres_do_not_move_are_left_out() -> None:
    fit = tyre_fit(pairs((20.2, 20.2)), sidewinder(rules=TYRE_RULES))
    rules = {one.rule for one in fit.table.columns if one.check is Check.RULE}
    # Not the teeth.
    assert rules == {0, 1, 2, 3, 4, 5}


@pytest.mark.parametrize(
    ("sizes", "check", "state"),
    [
        ({"width_mm": 17.0}, Check.TYRE_WIDTH, "holds"),
        ({"width_mm": 17.1}, Check.TYRE_WIDTH, "fails"),
        ({"bore_mm": 2.43}, Check.BORE, "holds"),
        ({"bore_mm": 2.44}, Check.BORE, "fails"),
        ({"bore_mm": math.nan}, Check.BORE, "not measured"),
    ],
)
def test_room_and_bore_of_tyres(
    sizes: dict[str, float], check: Check, state: str
) -> None:
    fit = tyre_fit(pairs((20.2, 20.2), **sizes), sidewinder())
    assert found(fit, check)[0] == state


def test_pairs_are_ordered_and_put_into_words() -> None:
    fit = tyre_fit(
        pairs((20.4, 20.4), (16.0, 16.0), (20.1, 20.1)),
        sidewinder(rules={"clearance_gear": (0.8, None)}),
    )
    assert fit.fits.tolist() == [True, False, True]
    assert best_first(fit).tolist() == [2, 0, 1]
    assert fit.rollout_change_percent[0] == pytest.approx(2.0)
    assert fit.rollout_mm[0] == pytest.approx(math.pi * 20.4 / 3)
    rule = fit.rows(1)[-1]
    assert rule.rule == 0
    words = check_words(rule)
    assert words.startswith("Gear to track: 0.75 mm, at least 0.80 mm; 0.05")
    assert fit.to_measure == ()
    with pytest.raises(NoSuchRowError) as refusal:
        fit.rows(3)
    assert refusal.value.code == "no_such_row"


def test_a_pair_weighs_what_it_weighs() -> None:
    # 181 with a pair of 20; one of 18.5 is 179.5.
    light = replace(pairs((20.0, 20.0)), mass_g=column(18.5))
    envelope = replace(sidewinder(rules=TYRE_RULES), masses=Masses(pair_g=20.0))
    assert found(tyre_fit(light, envelope), Check.RULE, rule=4)[1] == pytest.approx(
        179.5
    )
    unweighed = sidewinder(rules=TYRE_RULES)
    assert found(tyre_fit(light, unweighed), Check.RULE, rule=4)[1] == pytest.approx(
        181
    )


def test_legal_sizes_are_those_of_a_fine_scan() -> None:
    limits = {
        "clearance_rear": (0.9, 1.9),
        "clearance_gear": (0.8, None),
        "rake": (-0.3, 0.4),
    }
    rulebook, car = one_car({"gear_diameter": 17.6}, limits)
    sizes = np.arange(14_000, 32_001) / 1000
    every = field_of(
        [
            FLAT
            | {
                "gear_diameter": 17.6,
                "tyre_diameter_rear_left": size,
                "tyre_diameter_rear_right": size,
            }
            for size in sizes[4000:8001].tolist()
        ]
    )
    margin = evaluate(make_rules(every, limits), every).margin
    legal = sizes[4000:8001][(margin >= 0).all(axis=1)]
    got = legal_tyre_sizes(rulebook, car)
    # The scan's own step is the doubt.
    assert legal[0] - 0.001 < got.lowest_mm <= legal[0]
    assert legal[-1] <= got.highest_mm < legal[-1] + 0.001
    below = margin[np.searchsorted(sizes[4000:8001], legal[0]) - 1]
    above = margin[np.searchsorted(sizes[4000:8001], legal[-1]) + 1]
    assert got.lowest_rule == int(np.argmin(below))
    assert got.highest_rule == int(np.argmin(above))
    assert tyre_fit(pairs((20.0, 20.0)), sidewinder(rules=limits)).sizes == (
        legal_tyre_sizes(*one_car(rules=limits))
    )


@pytest.mark.parametrize("now", [20.013, 20.0371])
def test_a_range_narrower_than_a_step_is_not_missed(now: float) -> None:
    """A car that is legal as it stands: its own size is in the range."""
    limits = {"tyre_diameter_rear": (now - 0.002, now + 0.001)}
    values = {"tyre_diameter_rear_left": now, "tyre_diameter_rear_right": now}
    got = legal_tyre_sizes(*one_car(values, limits))
    assert got.lowest_mm == pytest.approx(now - 0.002, abs=1e-6)
    assert got.highest_mm == pytest.approx(now + 0.001, abs=1e-6)
    assert (got.lowest_rule, got.highest_rule) == (0, 0)


def test_a_narrow_range_away_from_the_tyres_is_found() -> None:
    """Between two steps and none of them legal: 19.112 to 19.118."""
    limits = {"tyre_diameter_rear": (19.112, 19.118)}
    got = legal_tyre_sizes(*one_car(rules=limits))
    assert (got.lowest_mm, got.highest_mm) == pytest.approx((19.112, 19.118), abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_sizes_that_are_shown_are_legal_when_they_are_put_on(seed: int) -> None:
    """As the pages show them, two decimals inwards, and under guarded acceptance."""
    rng = np.random.default_rng(seed)
    values = {
        "tyre_diameter_rear_left": rng.uniform(18, 21),
        "tyre_diameter_rear_right": rng.uniform(18, 21),
        "gear_diameter": rng.uniform(14, 18.5),
        "axle_height_rear_left": 8.5 + rng.normal(0, 0.1),
    }
    limits = {
        "clearance_rear": (rng.uniform(0.6, 1.1), rng.uniform(1.6, 2.4)),
        "clearance_gear": (rng.uniform(0.5, 1.0), None),
        "tilt": (-rng.uniform(0.1, 0.6), 0.4),
    }
    rule = list(DecisionRule)[seed % 3]
    rulebook, car = one_car(values, limits, decision_rule=rule)
    got = legal_tyre_sizes(rulebook, car)
    if math.isnan(got.lowest_mm) or got.highest_mm - got.lowest_mm < 0.02:
        return
    shown = (
        round_up(got.lowest_mm, decimals=2),
        round_down(got.highest_mm, decimals=2),
    )
    step = 2e-6
    just_outside = (got.lowest_mm - step, got.highest_mm + step)
    tried = field_of(
        [
            FLAT
            | values
            | {"tyre_diameter_rear_left": size, "tyre_diameter_rear_right": size}
            for size in (*shown, *just_outside)
        ]
    )
    found = evaluate(make_rules(tried, limits, decision_rule=rule), tried)
    keeps = np.asarray((found.admitted & (found.margin >= 0)).all(axis=1))
    assert keeps.tolist() == [True, True, False, False]


def test_no_size_may_be_legal_and_every_size_may() -> None:
    none = legal_tyre_sizes(
        *one_car(rules={"tyre_diameter_rear": (20.0, None), "rake": (None, -0.5)})
    )
    assert math.isnan(none.lowest_mm)
    assert math.isnan(none.highest_mm)
    assert none.lowest_rule is None
    every = legal_tyre_sizes(*one_car(rules={"weight_car": (250.0, None)}))
    # The range of plausible rear tyres.
    assert (every.lowest_mm, every.highest_mm) == (14.0, 32.0)
    assert (every.lowest_rule, every.highest_rule) == (None, None)


# The motor bay is 18 by 22 by 30; shaft 1.50 by 6 with a pressed pinion of 4.
MOTORS = [
    ({"can_height_mm": 18.1}, Check.CAN_HEIGHT, "fails", -0.1),
    ({"can_height_mm": 18.0}, Check.CAN_HEIGHT, "holds", 0.0),
    ({"can_width_mm": 22.5}, Check.CAN_WIDTH, "fails", -0.5),
    ({"can_length_mm": 30.0}, Check.CAN_LENGTH, "holds", 0.0),
    ({"can_length_mm": math.nan}, Check.CAN_LENGTH, "not measured", math.nan),
    ({"shaft_diameter_mm": 2.0}, Check.BORE, "fails", -0.4),
    ({"shaft_diameter_mm": 1.55}, Check.BORE, "holds", 0.05),
    ({"shaft_length_mm": 3.0}, Check.PINION_LENGTH, "fails", -1.0),
    # A sidewinder's shaft need not be at the axle's height.
    ({"can_height_mm": 12.0}, Check.LIFT, "not applicable", math.nan),
]  # fmt: skip


@pytest.mark.parametrize(("sizes", "check", "state", "margin"), MOTORS)
def test_motors_are_those_worked_by_hand(
    sizes: dict[str, float], check: Check, state: str, margin: float
) -> None:
    fit = motor_fit(a_motor(**sizes), sidewinder())
    got = found(fit, check)
    assert got[0] == state
    if state != "not applicable":
        assert got[2] == pytest.approx(margin, abs=1e-6, nan_ok=True)


@pytest.mark.parametrize(
    ("height", "lift", "state", "offset"),
    [
        # The axle's line is 8.5 up, the lift now 0.2, so the shaft at 0.2 + h / 2.
        (16.6, 0.2, "holds", 0.0),
        (16.0, 0.5, "holds", 0.3),
        (17.0, 0.0, "holds", -0.2),
        (17.2, -0.1, "fails", -0.3),
    ],
)
def test_an_in_line_motor_is_lifted_to_the_axles_line(
    height: float, lift: float, state: str, offset: float
) -> None:
    fit = motor_fit(a_motor(can_height_mm=height), in_line())
    assert found(fit, Check.LIFT)[0] == state
    assert fit.lift_mm[0] == pytest.approx(lift)
    # Where the motor sits now its shaft is so much off.
    assert found(fit, Check.MOTOR_AXLE_OFFSET)[1] == pytest.approx(offset, abs=1e-9)


@pytest.mark.parametrize("empty", ["lift_low_mm", "lift_high_mm"])
def test_a_lift_of_which_an_end_is_not_known_is_not_measured(empty: str) -> None:
    fit = motor_fit(a_motor(can_height_mm=16.6), in_line(mounting={empty: np.nan}))
    row = next(row for row in fit.rows(0) if row.check is Check.LIFT)
    assert row.state is CheckState.NOT_MEASURED
    assert str(HOW_TAKEN[empty]) in check_words(row)
    assert not np.isnan(fit.lift_mm[0])


def test_a_lift_beyond_what_the_bracket_gives_fails() -> None:
    fit = motor_fit(
        a_motor(can_height_mm=14.0), in_line(mounting={"lift_high_mm": 1.0})
    )
    state, value, margin = found(fit, Check.LIFT)
    assert state is CheckState.FAILS
    assert (value, margin) == pytest.approx((1.5, -0.5))


def test_the_rules_move_with_the_motor() -> None:
    rules = {
        "motor_resistance": (2.0, None),
        "motor_speed": (None, 30_000.0),
        "clearance_motor": (0.8, None),
        "can_height": (15.0, 17.0),
    }
    motor = a_motor(resistance_ohm=1.9, speed_rpm=29_000.0)
    fit = motor_fit(
        motor, sidewinder({"motor_resistance": 2.5, "motor_speed": 2e4}, rules)
    )
    states = [found(fit, Check.RULE, rule=rule)[0] for rule in range(4)]
    # The can's underside stays 0.2 over the flat and 1.5 over that.
    assert states == ["fails", "holds", "holds", "holds"]
    assert found(fit, Check.RULE, rule=2)[1] == pytest.approx(1.7)
    # Two limits, 15 to 17.
    assert found(fit, Check.RULE, rule=3)[1:] == pytest.approx((16.6, 0.4))
    assert not fit.fits[0]
    assert "ohm" in check_words(fit.rows(0)[-4])


def test_motors_that_fit_come_first() -> None:
    two = stacked([a_motor(can_width_mm=23.0), a_motor()])
    fit = motor_fit(two, sidewinder())
    assert fit.fits.tolist() == [False, True]
    assert best_first(fit).tolist() == [1, 0]
    assert fit.to_measure == ()


def test_stacked_parts_keep_their_own_doubt() -> None:
    known = replace(a_motor(), doubts={"speed_rpm": doubt(100.0, 50.0, 3)})
    two = stacked([a_motor(), known]).doubt("speed_rpm")
    assert two.random.tolist() == [0.0, 100.0]
    assert two.gauge.tolist() == [-1, 3]


def test_sizes_are_found_from_tyres_that_nobody_would_believe() -> None:
    values = dict.fromkeys(("tyre_diameter_rear_left", "tyre_diameter_rear_right"), 40)
    got = legal_tyre_sizes(*one_car(values, {"tyre_diameter_rear": (18.0, 20.0)}))
    assert (got.lowest_mm, got.highest_mm) == pytest.approx((18.0, 20.0), abs=1e-6)


def test_the_largest_gear_by_hand() -> None:
    # (20 - d) / 2 = 0.8 at 18.4; the bar 9.2 - d / 2 = 0.3 at 17.8; the rule at 17.5.
    bar = largest_gear(sidewinder())
    assert bar.governs is Check.CHASSIS_BAR
    assert bar.outside_diameter_mm == pytest.approx(17.8)
    # 17.8 / 0.5 - 2 is 33.6.
    assert bar.teeth == 33
    ground = largest_gear(sidewinder(mounting={"axle_to_bar_mm": math.inf}))
    assert ground.governs is Check.GROUND
    assert ground.outside_diameter_mm == pytest.approx(18.4)
    ruled = largest_gear(sidewinder(rules=RULES | {"gear_diameter": (None, 17.5)}))
    assert ruled.governs is Check.DIAMETER
    assert ruled.outside_diameter_mm == pytest.approx(17.5)


def test_the_largest_gear_just_fits_and_a_larger_one_does_not() -> None:
    # On a tilted, raked car.
    values = {"tyre_diameter_rear_left": 20.6, "axle_height_rear_right": 8.3}
    envelope = sidewinder(values, mounting={"axle_to_bar_mm": math.inf})
    largest = largest_gear(envelope)
    at = largest.outside_diameter_mm
    fit = gear_fit(
        gears([{"teeth": 30.0, "outside_diameter_mm": d} for d in (at, at + 2e-6)]),
        envelope,
    )
    column_ = fit.table.checks.index(largest.governs)
    margin = fit.table.margin[:, column_]
    assert margin[0] >= 0.0
    assert margin[1] < 0.0
    # By a caliper nobody can tell the two apart.
    assert fit.table.state[:, column_].tolist() == [CheckState.TOO_CLOSE.code] * 2


@pytest.mark.parametrize(
    ("speed", "state"),
    [
        (24_700.0, "holds"),
        (24_800.0, "too close to call"),
        (25_100.0, "too close to call"),
        (25_300.0, "fails"),
    ],
)
def test_a_rule_nearer_than_its_doubt_is_too_close_to_call(
    speed: float, state: str
) -> None:
    """U = √(100² + 100²) = 141 rpm, 233 at 1.645 u; by simulation, one in twenty."""
    motor = a_motor(speed_rpm=speed)
    known = replace(motor, doubts={"speed_rpm": doubt(100.0, 100.0, -1)})
    fit = motor_fit(
        known,
        sidewinder({"motor_speed": 24_000.0}, {"motor_speed": (None, 25_000.0)}),
    )
    assert found(fit, Check.RULE, rule=0)[0] == state
    true = speed + np.random.default_rng(1).normal(0, np.hypot(100, 100), 100_000)
    outside = float((true > 25_000).mean())
    assert (0.05 < outside < 0.95) == (state == "too close to call")
    assert fit.fits[0] == (state == "holds")


def test_the_most_teeth_of_a_crown_come_from_the_crowns_own_sizes() -> None:
    """One of 28 teeth of module 0.5 that is 15.75 across: 1.75 more than 14."""
    car = in_line({"teeth_gear": 28.0, "gear_diameter": 15.75})
    largest = largest_gear(car)
    module = float(car.pinion.module_mm[0])
    across = largest.outside_diameter_mm
    assert largest.teeth is not None
    assert 15.75 + module * (largest.teeth - 28) <= across
    assert 15.75 + module * (largest.teeth + 1 - 28) > across
    unmeasured = in_line({"teeth_gear": 28.0, "gear_diameter": math.nan})
    assert largest_gear(unmeasured).teeth is None


def test_the_largest_gear_under_guarded_acceptance_is_admitted() -> None:
    values = {"gear_diameter": 18.0}
    rulebook, field = one_car(
        values, RULES, decision_rule=DecisionRule.GUARDED_ACCEPTANCE
    )
    room = sidewinder(values, mounting={"axle_to_bar_mm": math.inf})
    largest = largest_gear(replace(room, rulebook=rulebook, car=field))
    assert largest.governs is Check.GROUND
    for size, legal in ((0.0, True), (2e-3, False)):
        again = one_car(
            {"gear_diameter": largest.outside_diameter_mm + size},
            {"clearance_gear": RULES["clearance_gear"]},
            decision_rule=DecisionRule.GUARDED_ACCEPTANCE,
        )
        assert evaluate(*again).admitted.all() == legal


def test_the_largest_gears_teeth_need_a_pitch() -> None:
    unknown = sidewinder(pinion=a_pinion(module_mm=math.nan))
    assert largest_gear(unknown).teeth is None
    coarse = sidewinder(pinion=a_pinion(module_mm=5.0))
    assert largest_gear(coarse).teeth is None


def test_a_largest_gear_without_geometry_says_what_to_measure() -> None:
    envelope = sidewinder(
        {"wheelbase_right": math.nan, "gear_position_y": math.nan},
        mounting={"axle_to_bar_mm": math.nan},
    )
    with pytest.raises(NotMeasuredError) as refusal:
        largest_gear(envelope)
    assert refusal.value.code == "not_measured"
    assert str(refusal.value) == (
        "Not measured: wheelbase, gear_position_y, axle_to_bar_mm."
    )


def test_what_carries_the_front_is_asked_for_where_it_is_not_said() -> None:
    with pytest.raises(NotMeasuredError, match="front"):
        largest_gear(sidewinder({"front_carrier": math.nan}))


def test_the_largest_gear_is_one_cars() -> None:
    cars = field_of([FLAT, FLAT])
    with pytest.raises(NotOneCarError):
        largest_gear(Envelope(car=cars, rulebook=make_rules(cars, RULES)))


def test_the_smallest_tyre_and_what_governs() -> None:
    ruled = smallest_tyre(sidewinder(rules={"tyre_diameter_rear": (18.7, None)}))
    assert (ruled.diameter_mm, ruled.governs, ruled.rule) == (18.7, Check.RULE, 0)
    # With no rule the tail, 12 behind the axle, touches first: the axle's middle sinks
    # 1.5 - s until 1.5 - s (1 + 12/95) = 0 at s = 1.332, that is 2.663 of diameter.
    free = smallest_tyre(sidewinder(rules={"weight_car": (100.0, None)}))
    assert free.governs is Check.GROUND
    assert free.rule is None
    assert free.diameter_mm == pytest.approx(20 - 2 * 1.5 / (1 + 12 / 95), abs=2e-3)
    floating = sidewinder({"wheelbase_left": math.nan}, {"weight_car": (100.0, None)})
    assert smallest_tyre(floating).governs is None
    assert smallest_tyre(floating).diameter_mm == pytest.approx(14.0)


def test_legal_to_is_the_wear_limit_with_that_gear_on() -> None:
    rules = {
        "clearance_gear": (0.8, None),
        "clearance_rear": (0.8, None),
        "rollout": (17.0, None),
        "gear_ratio": (2.0, 5.0),
    }
    envelope = sidewinder(rules=rules)
    teeth = [24.0, 27.0, 33.0, 35.0, 37.0]
    table = gears([{"teeth": one} for one in teeth])
    legal_to = gear_fit(table, envelope).legal_to_mm
    for row, one in enumerate(teeth):
        changed = {"teeth_gear": one, "gear_diameter": 0.5 * (one + 2)}
        limit = wear_limit(*one_car(changed, rules))
        if limit.wear > 0:
            assert legal_to[row] == pytest.approx(limit.tyre_diameter, abs=1e-9)
        else:
            assert math.isnan(legal_to[row])
    assert np.isnan(legal_to).any()
    assert not np.isnan(legal_to).all()


def test_legal_to_goes_no_further_than_three_millimetres() -> None:
    envelope = sidewinder(rules={"weight_car": (100.0, None)})
    legal_to = gear_fit(gears([{"teeth": 20.0}]), envelope).legal_to_mm
    # A scan that ends is no limit.
    assert legal_to.tolist() == [-math.inf]


def test_legal_to_is_not_known_for_a_car_broken_now_or_not_measured() -> None:
    one = gears([{"teeth": 27.0}])
    broken = sidewinder(rules={"tyre_diameter_rear": (21.0, None)})
    assert np.isnan(gear_fit(one, broken).legal_to_mm).all()
    unknown = sidewinder({"gear_position_y": math.nan})
    assert np.isnan(gear_fit(one, unknown).legal_to_mm).all()
    light = sidewinder(rules={"weight_car": (190.0, None)})
    # Weight is no matter of tyres.
    assert not np.isnan(gear_fit(one, light).legal_to_mm).any()


#: Cars that differ in what a part meets: tyres, layout, a can that was not measured,
#: a clearance that was taken by eye or by slip, and what carries the front.
MANY: list[dict[str, float]] = [
    {},
    {"layout": IN_LINE},
    {"tyre_diameter_rear_left": 15.0, "tyre_diameter_rear_right": 15.2},
    {"can_width": math.nan, "tyre_width_rear": math.nan},
    {"clearance_rear": 0.95, "clearance_gear": 2.7},
    {"gear_position_y": math.nan, "tyre_diameter_rear_left": math.nan},
    {"front_carrier": float(tuple(FrontCarrier).index(FrontCarrier.GUIDE))},
    {"weight_car": 172.0, "gear_diameter": 17.9},
]


def many_and_each() -> tuple[Envelope, list[Envelope]]:
    """Put cars into one envelope, and each into one of its own."""
    limits = TYRE_RULES | {"can_height": (12.0, 16.0), "clearance_rear": (0.8, None)}
    one, place = sidewinder(), np.arange(len(MANY), dtype=np.float64)
    cars = field_of([FLAT | car for car in MANY])
    pair_g, motor_g = 20.0 + place, 30.0 + place
    pair_g[3] = math.nan
    applies = np.ones((len(MANY), len(limits)), dtype=np.bool_)
    applies[2, 1] = False
    rulebook = replace(make_rules(cars, limits), applies=applies)
    room = replace(one.mounting, arch_width_mm=15.5 + 0.25 * place)
    many = Envelope(
        car=cars,
        rulebook=rulebook,
        mounting=room,
        gear=stacked([one.gear] * len(MANY)),
        pinion=one.pinion,
        motor=stacked([one.motor] * len(MANY)),
        masses=Masses(pair_g=pair_g, motor_g=motor_g),
    )
    each = [
        Envelope(
            car=cars.take(np.array([at])),
            rulebook=rulebook.take(np.array([at])),
            mounting=room.take(np.array([at])),
            gear=one.gear,
            pinion=one.pinion,
            motor=one.motor,
            masses=Masses(pair_g=float(pair_g[at]), motor_g=float(motor_g[at])),
        )
        for at in range(len(MANY))
    ]
    return many, each


@pytest.mark.parametrize(
    ("set_against", "part"),
    [
        (gear_fit, gears([{"teeth": 28.0, "outside_diameter_mm": 15.0}])),
        (pinion_fit, a_pinion()),
        (tyre_fit, replace(pairs((20.2, 19.9)), mass_g=column(18.5))),
        (tyre_fit, pairs((math.nan, 20.1))),
        (motor_fit, replace(a_motor(), mass_g=column(28.0))),
    ],
)
def test_one_part_against_many_cars_finds_of_each_what_it_finds_alone(
    set_against: Callable[[Any, Envelope], GearFit | TyreFit | MotorFit], part: Any
) -> None:
    many, each = many_and_each()
    together = set_against(part, many)
    assert together.table.row_count == len(each)
    seen = set()
    for at, envelope in enumerate(each):
        alone = set_against(part, envelope)
        expected = alone.rows(0)
        assert [plain(row) for row in together.rows(at)] == [
            plain(row) for row in expected
        ]
        seen |= {row.state for row in expected}
        for name in ("rollout_mm", "rollout_change_percent", "lift_mm"):
            if hasattr(alone, name):
                among = np.broadcast_to(getattr(together, name), len(each))[at]
                assert among == pytest.approx(getattr(alone, name)[0], nan_ok=True)
    assert {CheckState.HOLDS, CheckState.NOT_MEASURED} <= seen


def plain(row: CheckRow) -> tuple[object, ...]:
    """Give what a check found; of many cars its sentence names what any lacks."""
    figures = (row.value, row.lower, row.upper, row.margin)
    return row.check, row.rule, row.state, tuple(f"{one:.9g}" for one in figures)


def test_many_pairs_against_another_number_of_cars_are_refused() -> None:
    many, _ = many_and_each()
    for fit in (
        partial(tyre_fit, pairs((20.0, 20.0), (19.0, 19.0))),
        partial(motor_fit, stacked([a_motor(), a_motor()])),
    ):
        with pytest.raises(RowsDisagreeError) as refusal:
            fit(many)
        assert refusal.value.code == "rows_disagree"


def test_tables_of_other_shapes_are_refused() -> None:
    with pytest.raises(UnevenTableError) as refusal:
        Gears(teeth=column(27.0, 28.0), bore_mm=column(2.4, 2.4, 2.4))
    assert refusal.value.code == "uneven_table"
    with pytest.raises(UnevenTableError):
        Gears(teeth=np.zeros((2, 2)))
    both = stacked([gears([{"teeth": 27.0}]), gears([{"teeth": 28.0}])])
    assert both.teeth.tolist() == [27.0, 28.0]
    assert both.take(np.array([1])).teeth.tolist() == [28.0]


def test_an_envelope_is_of_the_same_cars() -> None:
    rulebook, car = one_car()
    two = Mounting(slot_low_mm=column(8.0, 8.0))
    with pytest.raises(EnvelopeShapeError) as refusal:
        Envelope(car=car, rulebook=rulebook, mounting=two)
    assert refusal.value.code == "envelope_shape"
    with pytest.raises(EnvelopeShapeError):
        Envelope(car=field_of([FLAT, FLAT]), rulebook=rulebook)
    with pytest.raises(NoLayoutError, match="sidewinder") as layout:
        Envelope(car=one_car({"layout": math.nan})[1], rulebook=rulebook)
    assert layout.value.code == "no_layout"


def test_an_envelope_takes_from_the_field_what_it_was_not_given() -> None:
    rulebook, car = one_car()
    envelope = Envelope(car=car, rulebook=rulebook)
    assert envelope.pinion.teeth.tolist() == [9.0]
    assert envelope.gear.outside_diameter_mm.tolist() == [14.5]
    assert envelope.motor.axis_in_can_mm.tolist() == [8.3]
    given = Envelope(car=car, rulebook=rulebook, pinion=a_pinion(teeth=10.0))
    assert given.pinion.teeth.tolist() == [10.0]


def test_the_strictest_of_several_limits_counts() -> None:
    car = field_of([FLAT])
    rulebook = make_rules(
        car,
        [
            ("clearance_gear", 0.8, None),
            ("clearance_gear", 1.2, None),
            ("clearance_gear", 0.5, 4.0),
        ],
    )
    rulebook = replace(rulebook, mandatory=np.array([True, False, True]))
    limits = Envelope(car=car, rulebook=rulebook).limits("clearance_gear")
    assert (limits.lower.tolist(), limits.upper.tolist()) == ([0.8], [4.0])


@pytest.mark.parametrize(
    ("room", "state"),
    [
        (16.4, "fails"),
        (16.58, "too close to call"),
        (16.62, "too close to call"),
        (16.8, "holds"),
    ],
)
def test_mounting_nearer_than_its_doubt_is_too_close_to_call(
    room: float, state: str
) -> None:
    """U = √(0.02² + 0.0115²) = 0.023 mm, 0.038 at 1.645 u, off the bay and the arch."""
    known = replace(
        a_motor(can_height_mm=16.6),
        doubts={"can_height_mm": doubt(0.02, 0.0115, -1)},
    )
    fit = motor_fit(known, sidewinder(mounting={"bay_height_mm": room}))
    assert found(fit, Check.CAN_HEIGHT)[0] == state
    wide = replace(
        pairs((19.5, 19.5), width_mm=16.6), doubts={"width_mm": doubt(0.02, 0.0115, -1)}
    )
    arch = tyre_fit(wide, sidewinder(mounting={"arch_width_mm": room}))
    assert found(arch, Check.TYRE_WIDTH)[0] == state
