"""Findings by hand, and the laws that any rulebook keeps."""

from collections.abc import Mapping
from dataclasses import fields, replace
from math import hypot, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from inspection.compute.judging import evaluation as rules_module
from inspection.compute.judging.conformity import NoLimitError
from inspection.compute.judging.evaluation import (
    Field,
    Findings,
    Point,
    RulesShapeError,
    admitted_cars,
    evaluate,
    margins,
    missing_inputs,
)
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.compute.quantities.registry import QUANTITIES, FrontCarrier
from inventory.compute.measuring.gauges import GaugeMode
from tests.inspection.compute.cars import DERIVED, LEVEL, make_field, make_rules

Limits = tuple[float | None, float | None]
ON_GUIDE = float(tuple(FrontCarrier).index(FrontCarrier.GUIDE))


def outcome(findings: Findings, rule: int = 0, car: int = 0) -> Outcome:
    return tuple(Outcome)[int(findings.outcome[car, rule])]


def point(findings: Findings, rule: int = 0, car: int = 0) -> Point:
    return tuple(Point)[int(findings.point[car, rule])]


def find(
    car: Mapping[str, float],
    key: str,
    limits: Limits,
    *,
    random: float = 0.01,
    systematic: float = 0.0,
    taken_only: bool = False,
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
) -> Findings:
    """Judge one car by one rule."""
    field = make_field([car], random=random, systematic=systematic, also=(key,))
    rules = make_rules(
        field,
        {key: limits},
        taken_only=(key,) if taken_only else (),
        decision_rule=decision_rule,
    )
    return evaluate(rules, field)


# Each of the outcomes, under each of the decision rules.

ADMITTED = {
    DecisionRule.SIMPLE_ACCEPTANCE: {Outcome.PASS, Outcome.CONDITIONAL_PASS},
    DecisionRule.GUARDED_ACCEPTANCE: {Outcome.PASS},
    DecisionRule.GUARDED_REJECTION: {
        Outcome.PASS,
        Outcome.CONDITIONAL_PASS,
        Outcome.CONDITIONAL_FAIL,
    },
}


@pytest.mark.parametrize("rule", DecisionRule)
@pytest.mark.parametrize(
    ("over_limit_in_bands", "expected"),
    [
        (1.01, Outcome.PASS),
        (0.5, Outcome.CONDITIONAL_PASS),
        (0.0, Outcome.CONDITIONAL_PASS),
        (-0.5, Outcome.CONDITIONAL_FAIL),
        (-1.21, Outcome.FAIL),
    ],
)
def test_ride_height_about_the_limit_has_its_outcome(
    over_limit_in_bands: float, expected: Outcome, rule: DecisionRule
) -> None:
    # Guide and rear axle at one clearance: D/2 - h = 1.70 throughout, 20.4 on 8.5.
    car = {**LEVEL, "front_carrier": ON_GUIDE, "guide_flange_height": -1.70}
    plain = find(car, "ride_height_rear", (0.0, None))
    band = norm.ppf(0.95) * plain.u[0, 0]
    limit = 1.70 - over_limit_in_bands * band
    found = find(car, "ride_height_rear", (limit, None), decision_rule=rule)
    assert outcome(found) is expected
    assert found.admitted[0, 0] == (expected in ADMITTED[rule])
    assert found.value[0, 0] == pytest.approx(1.70)
    assert found.margin[0, 0] == pytest.approx(1.70 - limit, abs=1.1e-6)
    if rule is DecisionRule.GUARDED_REJECTION and over_limit_in_bands < 0:
        # Both edges stand at the limit: at most Šidák's factor, √0.95 for each.
        most = norm.ppf(0.95**0.5) / norm.ppf(0.95) * band
        assert band < found.guard_band[0, 0] <= most + 0.003 * plain.u[0, 0]
    else:
        assert found.guard_band[0, 0] == pytest.approx(band, rel=1e-9)


def test_ride_height_has_the_uncertainty_worked_by_hand() -> None:
    """
    At the left edge of the chassis, 25 of the 30 out to the tyre.

    The edge has 11/12 of what the left contact does and 1/12 of the right one's; a
    contact has half of its diameter and 1.25 and -0.25 of the two axle heights,
    40 apart and 60 over the tyres.  The tyres sink alike.  All readings 0.01.
    """
    car = {**LEVEL, "front_carrier": ON_GUIDE, "guide_flange_height": -1.70}
    found = find(car, "ride_height_rear", (1.0, None))
    left, right = 11 / 12, 1 / 12
    heights = hypot(1.25 * left - 0.25 * right, 1.25 * right - 0.25 * left)
    diameters = hypot(left, right) / 2
    sink = 0.03 / sqrt(3)
    expected = hypot(0.01 * heights, 0.01 * diameters, sink)
    assert found.u[0, 0] == pytest.approx(expected, rel=1e-5)


# Which value, and which place.


def test_sided_quantity_is_judged_by_its_worse_side() -> None:
    car = {**LEVEL, "tyre_diameter_rear_right": 20.3}
    found = find(car, "tyre_diameter_rear", (20.0, None))
    assert found.value[0, 0] == pytest.approx(20.3)
    assert point(found) is Point.RIGHT
    assert found.taken[0, 0]
    upper = find(car, "tyre_diameter_rear", (None, 21.0))
    assert point(upper) is Point.LEFT


def test_sided_quantity_half_measured_is_not_measured() -> None:
    car = {k: v for k, v in LEVEL.items() if k != "tyre_diameter_rear_right"}
    found = find(car, "tyre_diameter_rear", (30.0, None))
    assert outcome(found) is Outcome.NOT_MEASURED


def test_least_clearance_is_judged_at_its_worst_place() -> None:
    car = {**LEVEL, "tyre_diameter_rear_right": 20.2, "front_carrier": ON_GUIDE}
    found = find(car, "ride_height_rear", (1.5, None))
    assert point(found) is Point.REAR_RIGHT_EDGE
    assert not found.taken[0, 0]


def test_worst_outcome_decides_though_another_place_has_less_slack() -> None:
    """
    Left 0.01 over the limit and ill measured, right 0.03 under it and well measured.

    Less its guard band the left one has less; only the right one fails.
    """
    field = Field(
        columns=("tyre_diameter_rear_left", "tyre_diameter_rear_right"),
        value=np.array([[20.01, 19.97]]),
        random=np.array([[0.1, 0.001]]),
        systematic=np.zeros((1, 2)),
        gauge=np.zeros((1, 2), dtype=np.int64),
    )
    found = evaluate(make_rules(field, {"tyre_diameter_rear": (20.0, None)}), field)
    assert outcome(found) is Outcome.FAIL
    assert point(found) is Point.RIGHT
    assert found.value[0, 0] == pytest.approx(19.97)


def test_equal_outcomes_are_decided_by_least_margin_less_guard_band() -> None:
    field = Field(
        columns=("tyre_diameter_rear_left", "tyre_diameter_rear_right"),
        value=np.array([[20.50, 20.40]]),
        random=np.array([[0.1, 0.001]]),
        systematic=np.zeros((1, 2)),
        gauge=np.zeros((1, 2), dtype=np.int64),
    )
    found = evaluate(make_rules(field, {"tyre_diameter_rear": (20.0, None)}), field)
    assert outcome(found) is Outcome.PASS
    # 0.5 - 1.645 × 0.1 is less than 0.4 - 1.645 × 0.001.
    assert point(found) is Point.LEFT


def test_tyre_past_the_body_is_judged_at_the_wider_end() -> None:
    found = find(LEVEL, "tyre_outside_body", (None, 0.0))
    assert point(found) is Point.REAR
    assert found.value[0, 0] == pytest.approx(-2.0)


def test_taken_counts_before_derived() -> None:
    taken = find({**LEVEL, "clearance_gear": 1.39}, "clearance_gear", (1.0, None))
    assert taken.taken[0, 0]
    assert point(taken) is Point.WHOLE
    assert taken.value[0, 0] == pytest.approx(1.39)
    assert taken.u[0, 0] == pytest.approx(0.01)
    assert taken.derived[0, 0] == pytest.approx(1.40, abs=1e-5)
    assert not taken.disagrees[0, 0]
    derived = find(LEVEL, "clearance_gear", (1.0, None))
    assert not derived.taken[0, 0]
    assert derived.derived[0, 0] == derived.value[0, 0]
    assert derived.derived_u[0, 0] == derived.u[0, 0]


@pytest.mark.parametrize(("bands", "disagrees"), [(1.99, False), (2.01, True)])
@pytest.mark.parametrize("sign", [-1, 1])
def test_taken_and_derived_disagree_beyond_two_uncertainties(
    bands: float, *, sign: int, disagrees: bool
) -> None:
    derived = find(LEVEL, "clearance_gear", (1.0, None))
    value, u = derived.value[0, 0], derived.u[0, 0]
    taken = {**LEVEL, "clearance_gear": value + sign * bands * hypot(u, 0.01)}
    found = find(taken, "clearance_gear", (1.0, None))
    assert found.disagrees[0, 0] == disagrees


def test_derived_in_no_place_disagrees_with_nothing() -> None:
    found = find({"clearance_gear": 1.0}, "clearance_gear", (1.0, None))
    assert np.isnan(found.derived[0, 0])
    assert np.isnan(found.derived_u[0, 0])
    assert not found.disagrees[0, 0]


def test_derived_is_no_evidence_where_only_taken_is() -> None:
    found = find(LEVEL, "clearance_gear", (1.0, None), taken_only=True)
    assert outcome(found) is Outcome.NOT_MEASURED
    assert not found.admitted[0, 0]
    taken = {**LEVEL, "clearance_gear": 1.2}
    found = find(taken, "clearance_gear", (1.0, None), taken_only=True)
    assert outcome(found) is Outcome.PASS


def test_taken_track_goes_into_what_is_derived_from_it() -> None:
    car = {**LEVEL, "axle_height_rear_left": 8.6, "track_rear": 50.0}
    found = find(car, "axle_level", (None, 1.0))
    assert found.value[0, 0] == pytest.approx(0.1 * 50 / 40)


def test_one_car_by_taken_and_another_by_derived() -> None:
    field = make_field([{**LEVEL, "clearance_gear": 0.9}, LEVEL])
    found = evaluate(make_rules(field, {"clearance_gear": (1.0, None)}), field)
    assert found.taken[:, 0].tolist() == [True, False]
    assert [outcome(found, car=car) for car in (0, 1)] == [Outcome.FAIL, Outcome.PASS]


# Shared gauges.


@pytest.mark.parametrize("body", [76.0, 80.0, 81.0, 81.01, 120.0])
def test_lengths_share_their_gauges_error_the_less_the_further_apart(
    body: float,
) -> None:
    car = {**LEVEL, "body_width": body, "width_front": 76.0}
    found = find(car, "tyre_outside_body", (None, 0.0), random=0.0, systematic=0.02)
    # JCGM 100 5.2.2 in full, slopes of a half each way; outside jaws, 20 mm.
    slopes = np.array([0.5, -0.5])
    alike = np.exp(-abs(body - 76.0) / 20.0)
    covariance = 0.02**2 * np.array([[1.0, alike], [alike, 1.0]])
    expected = np.sqrt(slopes @ covariance @ slopes)
    assert found.u[0, 0] == pytest.approx(expected, abs=1e-9)


def test_depth_shares_over_less_than_jaws_do() -> None:
    assert GaugeMode.OUTSIDE.length_scale_mm == GaugeMode.INSIDE.length_scale_mm
    assert GaugeMode.DEPTH.length_scale_mm < GaugeMode.OUTSIDE.length_scale_mm


def test_readings_that_cancel_do_not_count_among_the_lengths() -> None:
    """The tyres sink alike, and twist has none of it."""
    car = {**LEVEL, "tyre_sink": 0.02}
    for end in ("rear", "front"):
        for side in ("left", "right"):
            car[f"tyre_diameter_{end}_{side}"] = 18.0
            car[f"axle_height_{end}_{side}"] = 8.0
    field = make_field([car], random=0.0, systematic=0.0)
    at = [
        field.columns.index(name)
        for name in ("tyre_sink", "tyre_diameter_rear_left", "tyre_diameter_rear_right")
    ]
    field.systematic[:, at] = 0.02
    found = evaluate(make_rules(field, {"twist": (-1.0, 1.0)}), field)
    # Two rear tyres too large alike lift the front right one by nothing.
    assert found.u[0, 0] == pytest.approx(0.0, abs=1e-9)


# Looked at, counted, declared.


@pytest.mark.parametrize(
    ("seen", "limits", "expected"),
    [
        (1.0, (1.0, None), Outcome.PASS),
        (0.0, (1.0, None), Outcome.FAIL),
        (0.0, (None, 0.0), Outcome.PASS),
        (1.0, (None, 0.0), Outcome.FAIL),
    ],
)
def test_looked_at_is_sure(seen: float, limits: Limits, expected: Outcome) -> None:
    found = find({"motor_sealed": seen}, "motor_sealed", limits, random=0.0)
    assert outcome(found) is expected
    assert not found.u[0, 0]
    assert found.probability[0, 0] == pytest.approx(
        1.0 if expected is Outcome.PASS else 0.0
    )


def test_two_sided_limits_take_the_worse_side() -> None:
    found = find({"weight_car": 180.02}, "weight_car", (170.0, 180.0))
    assert outcome(found) is Outcome.FAIL
    found = find({"weight_car": 179.99}, "weight_car", (170.0, 180.0))
    assert outcome(found) is Outcome.CONDITIONAL_PASS
    assert found.margin[0, 0] == pytest.approx(0.01)


# Not measured, not applicable.


def test_not_measured_is_never_a_pass() -> None:
    found = find({}, "weight_car", (180.0, None))
    assert outcome(found) is Outcome.NOT_MEASURED
    assert not found.admitted[0, 0]
    assert found.point[0, 0] == -1
    assert not found.taken[0, 0]
    for number in (found.value, found.u, found.margin, found.probability):
        assert np.isnan(number[0, 0])


def test_one_place_not_measured_leaves_the_least_unknown() -> None:
    car = {k: v for k, v in LEVEL.items() if k != "wheelbase_right"}
    car |= {"front_carrier": ON_GUIDE, "centre_of_gravity_x": 40.0}
    found = find(car, "ride_height_front", (0.0, None))
    assert outcome(found) is Outcome.NOT_MEASURED
    assert np.isnan(found.derived[0, 0])


def test_rule_about_other_cars_is_not_applicable() -> None:
    field = make_field([LEVEL, LEVEL])
    rules = make_rules(field, {"weight_car": (200.0, None)})
    rules = replace(rules, applies=np.array([[False], [True]]))
    found = evaluate(rules, field)
    assert [outcome(found, car=car) for car in (0, 1)] == [
        Outcome.NOT_APPLICABLE,
        Outcome.FAIL,
    ]
    assert found.admitted[:, 0].tolist() == [True, False]
    assert found.point[0, 0] == -1
    assert np.isnan(margins(rules, field)[0, 0])


def test_twist_of_a_car_on_its_guide_is_not_applicable() -> None:
    car = {**LEVEL, "front_carrier": ON_GUIDE}
    found = find(car, "twist", (None, 0.2))
    assert outcome(found) is Outcome.NOT_APPLICABLE
    found = find(LEVEL, "twist", (None, 0.2))
    assert outcome(found) is Outcome.PASS


def test_advisory_rules_do_not_send_a_car_back() -> None:
    field = make_field([LEVEL, {**LEVEL, "body_width": 90.0}])
    rules = make_rules(field, {"weight_car": (200.0, None), "body_width": (None, 85.0)})
    rules = replace(rules, mandatory=np.array([False, True]))
    found = evaluate(rules, field)
    assert admitted_cars(rules, found).tolist() == [True, False]


def test_mandatory_rule_not_measured_does_not_admit() -> None:
    field = make_field([{"body_width": 80.0}], also=("weight_car",))
    rules = make_rules(field, {"weight_car": (200.0, None)})
    assert admitted_cars(rules, evaluate(rules, field)).tolist() == [False]


# Go gauges: a reading that is only a bound.

AT_LEAST, AT_MOST = 1, -1


@pytest.mark.parametrize(
    ("bound", "slip", "limits", "expected"),
    [
        # The limit slip goes, and does not; a smaller and a larger one.
        (AT_LEAST, 1.0, (1.0, None), Outcome.PASS),
        (AT_MOST, 1.0, (1.0, None), Outcome.FAIL),
        (AT_LEAST, 0.9, (1.0, None), Outcome.NOT_MEASURED),
        (AT_MOST, 0.9, (1.0, None), Outcome.FAIL),
        (AT_LEAST, 1.1, (1.0, None), Outcome.PASS),
        (AT_MOST, 1.1, (1.0, None), Outcome.NOT_MEASURED),
        # A box that the car goes into, and one that it does not.
        (AT_MOST, 1.0, (None, 1.0), Outcome.PASS),
        (AT_LEAST, 1.0, (None, 1.0), Outcome.FAIL),
        (AT_MOST, 1.1, (None, 1.0), Outcome.NOT_MEASURED),
        (AT_LEAST, 1.1, (None, 1.0), Outcome.FAIL),
        # Of two limits one bound can only break one.
        (AT_LEAST, 1.0, (1.0, 2.0), Outcome.NOT_MEASURED),
        (AT_MOST, 1.0, (1.0, 2.0), Outcome.FAIL),
        (AT_LEAST, 2.0, (1.0, 2.0), Outcome.FAIL),
    ],
)
@pytest.mark.parametrize("rule", DecisionRule)
def test_go_gauge_passes_or_fails_and_nothing_between(
    bound: int, slip: float, limits: Limits, expected: Outcome, rule: DecisionRule
) -> None:
    field = make_field([{"clearance_gear": slip}], also=())
    field = replace(field, bound=np.array([[bound]], dtype=np.int8))
    rules = make_rules(field, {"clearance_gear": limits}, decision_rule=rule)
    found = evaluate(rules, field)
    assert outcome(found) is expected
    assert found.admitted[0, 0] == (expected is Outcome.PASS)
    assert np.isnan(found.probability[0, 0])
    if expected is not Outcome.NOT_MEASURED:
        assert found.u[0, 0] == pytest.approx(hypot(0.01, 0.01))
        assert found.taken[0, 0]


@pytest.mark.parametrize(
    ("bound", "slip", "disagrees"),
    [
        (AT_LEAST, 1.2, False),
        (AT_LEAST, 1.6, True),
        (AT_MOST, 1.2, True),
        (AT_MOST, 1.6, False),
    ],
)
def test_go_gauge_disagrees_only_with_what_is_beyond_it(
    bound: int, slip: float, *, disagrees: bool
) -> None:
    """The gear clears by 1.40."""
    field = make_field([{**LEVEL, "clearance_gear": slip}])
    bounds = np.zeros(field.value.shape, dtype=np.int8)
    bounds[0, field.columns.index("clearance_gear")] = bound
    field = replace(field, bound=bounds)
    found = evaluate(make_rules(field, {"clearance_gear": (1.2, None)}), field)
    assert found.disagrees[0, 0] == disagrees


def test_go_gauge_is_no_value_to_derive_from() -> None:
    field = make_field([LEVEL])
    bounds = np.zeros(field.value.shape, dtype=np.int8)
    bounds[0, field.columns.index("width_rear")] = AT_MOST
    field = replace(field, bound=bounds)
    found = evaluate(make_rules(field, {"track_rear": (50.0, None)}), field)
    assert outcome(found) is Outcome.NOT_MEASURED


# What to measure.


def missing(
    car: Mapping[str, float], key: str, limits: Limits = (-50.0, None)
) -> tuple[str, ...]:
    field = make_field([LEVEL, car], also=(key, *DERIVED))
    rules = make_rules(field, {key: limits})
    return missing_inputs(rules, field, evaluate(rules, field), car=1)[0]


def without(*names: str, **changed: float) -> dict[str, float]:
    return {k: v for k, v in {**LEVEL, **changed}.items() if k not in names}


def test_missing_nothing_where_the_rule_was_judged() -> None:
    assert missing(LEVEL, "clearance_gear") == ()


@pytest.mark.parametrize(
    ("key", "lacking"),
    [
        ("weight_car", ("weight_car",)),
        ("tyre_diameter_rear", ("tyre_diameter_rear_right",)),
        ("rollout", ("tyre_diameter_rear_left", "teeth_pinion")),
        ("clearance_gear", ("tyre_width_front", "gear_diameter")),
        ("ride_height_rear", ("chassis_width",)),
        ("motor_axle_offset", ("can_height", "motor_lift_rear")),
        ("clearance_least", ("guide_lead", "chassis_tail")),
    ],
)
def test_missing_names_the_readings_that_lack(
    key: str, lacking: tuple[str, ...]
) -> None:
    assert set(missing(without(*lacking), key)) == set(lacking)


def test_missing_of_a_class_is_what_carries_its_front() -> None:
    car = without("guide_lead", "tyre_diameter_front_left", front_carrier=ON_GUIDE)
    assert missing(car, "rake") == ("guide_lead",)
    unknown = without("guide_lead", "tyre_diameter_front_left", "front_carrier")
    assert missing(unknown, "rake") == ("front_carrier",)


def test_missing_is_the_quantity_itself_where_only_taken_is_evidence() -> None:
    field = make_field([LEVEL])
    rules = make_rules(
        field, {"clearance_gear": (1.0, None)}, taken_only=("clearance_gear",)
    )
    found = evaluate(rules, field)
    assert missing_inputs(rules, field, found) == (("clearance_gear",),)


def test_missing_is_the_quantity_itself_where_its_readings_give_no_value() -> None:
    tipping = {**LEVEL, "centre_of_gravity_x": -5.0}
    assert missing(tipping, "clearance_gear") == ("clearance_gear",)
    sidewinder = {**LEVEL, "layout": 1.0}
    assert missing(sidewinder, "clearance_motor") == ("can_half_width",)


def test_missing_is_the_rest_of_a_corner_that_is_begun() -> None:
    begun = {**LEVEL, "outline_2_x": 30.0, "outline_2_y": 5.0}
    assert missing(begun, "clearance_least") == ("outline_2_z",)


@pytest.mark.parametrize(
    ("word", "lacking"),
    [("axle_held", "axle_play_vertical"), ("axle_height_to", "axle_diameter")],
)
@pytest.mark.parametrize("key", ["axle_height_rear", "axle_level", "clearance_gear"])
def test_missing_is_what_takes_an_axle_height_to_its_centre(
    key: str, word: str, lacking: str
) -> None:
    assert missing({**LEVEL, word: 1.0}, key) == (lacking,)


def test_missing_is_a_value_where_the_bound_decides_nothing() -> None:
    field = make_field([{**LEVEL, "clearance_gear": 0.5}])
    bounds = np.zeros(field.value.shape, dtype=np.int8)
    bounds[0, field.columns.index("clearance_gear")] = AT_LEAST
    field = replace(field, bound=bounds)
    rules = make_rules(field, {"clearance_gear": (1.0, None)})
    found = evaluate(rules, field)
    assert missing_inputs(rules, field, found) == (("clearance_gear",),)


def test_missing_names_the_carrier_where_all_else_is_known() -> None:
    """Whichever it is, the rear wheels and one of the two fronts are there."""
    assert missing({**LEVEL, "front_carrier": np.nan}, "rake") == ("front_carrier",)


def test_missing_names_the_carrier_where_the_field_has_no_column_for_it() -> None:
    known = {name: value for name, value in LEVEL.items() if name != "front_carrier"}
    bare = make_field([known])
    assert "front_carrier" not in bare.columns
    rules = make_rules(bare, {"wheelbase": (1000.0, None)})
    # What has nothing to do with the front is judged, and misses nothing.
    assert missing_inputs(rules, bare, evaluate(rules, bare)) == ((),)


@pytest.mark.parametrize("key", DERIVED)
def test_missing_readings_once_taken_give_a_finding(key: str) -> None:
    """Whatever is named, and nothing else, is enough."""
    car: dict[str, float] = {"front_carrier": 0.0, "layout": 0.0}
    named = missing(car, key)
    known_by_default = {"gear_design_offset", "can_middle_y"}
    assert not known_by_default & set(named)
    taken = {name: LEVEL[name] for name in named}
    assert outcome(find({**car, **taken}, key, (-50.0, None))) is not (
        Outcome.NOT_MEASURED
    )


# Shapes.


def test_rules_for_another_field_are_refused() -> None:
    field = make_field([LEVEL])
    rules = make_rules(make_field([LEVEL, LEVEL]), {"weight_car": (180.0, None)})
    with pytest.raises(RulesShapeError, match="2 cars, not 1"):
        evaluate(rules, field)


@pytest.mark.parametrize("column", [-1, 1_000])
def test_rules_about_no_column_are_refused(column: int) -> None:
    field = make_field([LEVEL])
    rules = make_rules(field, {"weight_car": (180.0, None)})
    with pytest.raises(RulesShapeError, match="column"):
        evaluate(replace(rules, column=np.array([column])), field)


@pytest.mark.parametrize(
    "changed",
    [
        {"lower": np.zeros(2)},
        {"applies": np.ones((1, 2), dtype=np.bool_)},
        {"applies": np.ones(1, dtype=np.bool_)},
    ],
)
def test_rules_of_unequal_length_are_refused(
    changed: dict[str, NDArray[np.bool_]],
) -> None:
    rules = make_rules(make_field([LEVEL]), {"weight_car": (180.0, None)})
    with pytest.raises(RulesShapeError, match="a rule"):
        replace(rules, **changed)  # type: ignore[arg-type]


def test_rule_without_limits_is_refused() -> None:
    with pytest.raises(NoLimitError):
        find(LEVEL, "weight_car", (None, None))


def test_no_rules_admit_every_car() -> None:
    field = make_field([LEVEL, LEVEL])
    rules = make_rules(field, {})
    assert rules.count == 0
    found = evaluate(rules, field)
    assert found.outcome.shape == (2, 0)
    assert margins(rules, field).shape == (2, 0)
    assert admitted_cars(rules, found).tolist() == [True, True]


def test_no_cars_have_no_findings() -> None:
    field = make_field([LEVEL]).take(slice(0, 0))
    rules = make_rules(field, dict.fromkeys(DERIVED, (-50.0, None)))
    assert evaluate(rules, field).outcome.shape == (0, len(DERIVED))
    assert margins(rules, field).shape == (0, len(DERIVED))


# Laws.


def mixed_field(seed: int, cars: int) -> Field:
    """Cars of all kinds: some readings missing, some clearances taken, some bounds."""
    rng = np.random.default_rng(seed)
    level = make_field([{**LEVEL, **OUTLINE}], also=(*DERIVED, "tyre_sink"))
    value = np.repeat(level.value, cars, axis=0)
    exact = ~(level.random > 0)
    value += np.where(exact, 0.0, rng.normal(0.0, 0.1, value.shape))
    names = level.columns
    value[:, names.index("front_carrier")] = rng.integers(0, 2, cars)
    is_outline = [name.startswith("outline") for name in names]
    outline = np.flatnonzero(is_outline)
    value[np.ix_(rng.random(cars) < 0.6, outline)] = np.nan
    taken = [at for at, name in enumerate(names) if name.startswith("clearance")]
    some = rng.random((cars, len(taken))) < 0.3
    value[:, taken] = np.where(some, rng.uniform(0.8, 2.0, some.shape), np.nan)
    value[rng.random(value.shape) < 0.01] = np.nan
    bound = np.zeros(value.shape, dtype=np.int8)
    bound[:, taken] = rng.integers(-1, 2, some.shape)
    return Field(
        columns=names,
        value=value,
        random=np.where(exact, 0.0, rng.uniform(0.0, 0.02, value.shape)),
        systematic=np.where(exact, 0.0, rng.uniform(0.0, 0.02, value.shape)),
        gauge=rng.integers(-1, 9, value.shape),
        bound=bound,
    )


OUTLINE = {
    f"outline_{corner}_{axis}": place
    for corner, places in enumerate(
        [(-10.0, 20.0, 0.0), (-10.0, -20.0, 0.0), (100.0, 4.0, -0.2)], start=1
    )
    for axis, place in zip("xyz", places, strict=True)
}
ALL_RULES = [
    *[(key, -0.05, 1.6) for key in DERIVED],
    *[(key, 1.2, None) for key in DERIVED],
    ("weight_car", 180.9, None),
    ("tyre_diameter_rear", 20.3, 20.5),
    ("wheelbase", None, 95.1),
]


def assert_same(found: Findings, expected: Findings, cars: slice) -> None:
    for one in fields(Findings):
        np.testing.assert_array_equal(
            getattr(found, one.name), getattr(expected, one.name)[cars], one.name
        )


def test_findings_of_one_car_are_those_in_the_batch_to_the_digit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    field = mixed_field(seed=3, cars=40)
    rules = make_rules(field, ALL_RULES)
    whole = evaluate(rules, field)
    codes = set(np.unique(whole.outcome).tolist())
    assert codes == set(range(len(Outcome)))
    for car in range(field.car_count):
        one = slice(car, car + 1)
        assert_same(evaluate(rules.take(one), field.take(one)), whole, one)
    # However many are taken at once: 7 leaves 5 cars over, 39 one.
    for at_once in (7, 39):
        monkeypatch.setattr(rules_module, "_CARS_AT_ONCE", at_once)
        assert_same(evaluate(rules, field), whole, slice(None))


def test_margins_are_those_of_the_findings_without_uncertainty() -> None:
    field = replace(mixed_field(seed=4, cars=40), bound=None)
    exact = replace(
        field,
        random=np.zeros_like(field.random),
        systematic=np.zeros_like(field.systematic),
    )
    # Without a reading the tyres sink by nothing, give or take.
    sink = field.columns.index("tyre_sink")
    exact.value[:, sink] = 0.0
    rules = make_rules(exact, ALL_RULES)
    found = evaluate(rules, exact)
    np.testing.assert_array_equal(margins(rules, exact), found.margin)


@given(st.integers(0, 10_000), st.floats(0.0, 0.3))
@settings(max_examples=15)
def test_widening_limits_never_turns_admitted_into_refused(
    seed: int, by: float
) -> None:
    field = mixed_field(seed, cars=4)
    rules = make_rules(field, ALL_RULES)
    wider = replace(rules, lower=rules.lower - by, upper=rules.upper + by)
    narrow, wide = evaluate(rules, field), evaluate(wider, field)
    measured = narrow.outcome < Outcome.NOT_MEASURED.code
    # A bound at a limit may be short of a limit that has moved away from it.
    value = measured & ~np.isnan(narrow.probability)
    assert (wide.outcome <= narrow.outcome)[value].all()
    assert (wide.admitted >= narrow.admitted)[value].all()


@given(st.integers(0, 10_000))
@settings(max_examples=15)
def test_smaller_uncertainty_never_widens_the_doubt(seed: int) -> None:
    field = mixed_field(seed, cars=4)
    smaller = replace(field, random=field.random / 2, systematic=field.systematic / 2)
    rules = make_rules(field, [(key, -1.0, 2.0) for key in DERIVED])
    one_place = [
        rule for rule, key in enumerate(DERIVED) if not key.startswith(("cl", "rid"))
    ]
    wide = evaluate(rules, field).guard_band[:, one_place]
    narrow = evaluate(rules, smaller).guard_band[:, one_place]
    assert (narrow <= wide + 1e-12)[~np.isnan(wide)].all()


@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
@settings(max_examples=15)
def test_order_of_columns_rules_and_cars_is_irrelevant(
    seed: int, random: object
) -> None:
    field = mixed_field(seed, cars=5)
    rng = np.random.default_rng(seed + 1)
    columns = rng.permutation(len(field.columns))
    cars, order = rng.permutation(field.car_count), rng.permutation(len(ALL_RULES))
    assert field.bound is not None
    mixed = Field(
        columns=tuple(field.columns[at] for at in columns),
        **{
            name: getattr(field, name)[np.ix_(cars, columns)]
            for name in ("value", "random", "systematic", "gauge", "bound")
        },
    )
    expected = evaluate(make_rules(field, ALL_RULES), field)
    found = evaluate(make_rules(mixed, [ALL_RULES[at] for at in order]), mixed)
    for one in fields(Findings):
        np.testing.assert_array_equal(
            getattr(found, one.name),
            getattr(expected, one.name)[np.ix_(cars, order)],
            one.name,
        )


@given(st.integers(0, 10_000), st.data())
@settings(max_examples=15)
def test_reading_lost_never_makes_a_pass(seed: int, data: st.DataObject) -> None:
    field = mixed_field(seed, cars=3)
    keys = [key for key in DERIVED if not QUANTITIES[key].gauges]
    rules = make_rules(field, [(key, -1.0, 2.0) for key in keys])
    before = evaluate(rules, field)
    lost = data.draw(st.integers(0, len(field.columns) - 1))
    default = {"tyre_sink", "gear_design_offset", "layout"}
    if field.columns[lost] in default or "outline" in field.columns[lost]:
        return
    value = field.value.copy()
    value[:, lost] = np.nan
    after = evaluate(rules, replace(field, value=value))
    changed = after.outcome != before.outcome
    assert np.isin(
        after.outcome[changed],
        [Outcome.NOT_MEASURED.code, Outcome.NOT_APPLICABLE.code],
    ).all()
