"""
The registry against the list that it started from, and what a rulebook asks.

The rows below are that list, common practice, no source: key, unit, plausible
range, kind, and whether left and right have a value each.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.compute.asking import READINGS_A_NIGHT, readings_to_take
from inspection.compute.quantities.registry import (
    COLUMNS,
    QUANTITIES,
    AxleHeightTo,
    AxleHeld,
    FrontCarrier,
    Keeps,
    Kind,
    Layout,
    Side,
    UnknownColumnError,
    UnknownQuantityError,
    Whereabouts,
    column_owner,
    columns_of,
)
from inspection.compute.stance import inputs_of
from tests.inspection.compute.cars import DERIVED

STARTED_FROM = """
clearance_rear mm 0.2 5 taken_or_derived -
clearance_front mm 0.2 6 taken_or_derived -
clearance_least mm 0 5 taken_or_derived -
clearance_gear mm 0 5 taken_or_derived -
clearance_motor mm 0 6 taken_or_derived -
clearance_magnet mm 0 6 measured -
clearance_body mm 0.3 12 measured -
ride_height_rear mm 0.2 6 taken_or_derived -
ride_height_front mm 0.2 6 taken_or_derived -
twist mm -1.5 1.5 derived -
rake degree -3 3 derived -
tilt degree -3 3 derived -
axle_height_rear mm 3 16 measured L/R
axle_height_front mm 3 16 measured L/R
axle_play_vertical mm 0 0.3 measured -
axle_play_side mm 0 1.5 measured -
axle_diameter mm 1.5 3.3 measured -
axle_level mm -1 1 derived -
axle_square degree -3 3 derived -
tyre_diameter_rear mm 14 32 measured L/R
tyre_diameter_front mm 8 32 measured L/R
tyre_width_rear mm 4 22 measured -
tyre_width_front mm 0.5 16 measured -
tyre_mismatch_rear mm -2 2 derived -
tyre_mismatch_front mm -2 2 derived -
rim_diameter mm 8 24 measured -
out_of_round mm 0 0.5 derived -
taper mm -0.5 0.5 derived -
run_out mm 0 0.5 measured -
tyre_hardness Shore_A 5 80 measured -
width_rear mm 40 90 measured -
width_front mm 35 90 measured -
track_rear mm 30 80 derived -
track_front mm 30 80 derived -
wheelbase mm 55 140 measured L/R
body_width mm 40 95 measured -
body_length mm 90 240 measured -
body_height mm 15 70 measured -
tyre_outside_body mm -10 5 derived -
chassis_width mm 15 85 measured -
chassis_thickness mm 0.3 4 measured -
weight_car g 40 320 measured -
weight_body g 3 90 measured -
guide_depth mm 2 10 measured -
guide_width mm 1 3.5 measured -
guide_lead mm 55 150 measured -
teeth_pinion 1 6 20 counted -
teeth_gear 1 18 60 counted -
gear_ratio 1 1.5 6 derived -
rollout mm 5 50 derived -
gear_diameter mm 8 26 measured -
motor_axle_offset mm -3 3 derived -
can_height mm 8 28 measured -
can_width mm 10 28 measured -
can_length mm 15 40 measured -
motor_speed rpm 5000 130000 measured -
motor_resistance ohm 0.05 30 measured -
magnet_pull g 0 1000 measured -
front_wheels_touch 1 0 1 looked_at -
motor_sealed 1 0 1 looked_at -
magnets_allowed 1 0 1 looked_at -
tyres_treated 1 0 1 looked_at -
lights_work 1 0 1 looked_at -
driver_and_interior 1 0 1 looked_at -
body_marked 1 0 1 looked_at -
layout 1 0 2 declared -
scale 1 0 9999 declared -
front_carrier 1 0 1 declared -
compound 1 0 9999 declared -
family 1 0 9999 declared -
"""
ROWS = [line.split() for line in STARTED_FROM.strip().splitlines()]
KEYS = sorted(QUANTITIES)

# A rulebook with rules of all kinds: clearances, ride heights, sizes, weight, build.
USUAL = (
    "clearance_rear",
    "clearance_gear",
    "clearance_motor",
    "ride_height_rear",
    "ride_height_front",
    "tyre_width_rear",
    "tyre_diameter_rear",
    "track_rear",
    "width_rear",
    "wheelbase",
    "weight_car",
    "axle_level",
    "motor_axle_offset",
    "front_wheels_touch",
    "motor_sealed",
)
CLEARANCES = USUAL[:3]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_registry_keeps_every_row_it_started_from(row: list[str]) -> None:
    key, unit, low, high, kind, sides = row
    quantity = QUANTITIES[key]
    assert quantity.key == key
    assert quantity.unit == unit.replace("_", " ")
    assert (quantity.low, quantity.high) == (float(low), float(high))
    assert quantity.kind == kind.replace("_", " ")
    assert quantity.sided is (sides == "L/R")


def test_registry_names_are_told_apart() -> None:
    labels = [row.label for row in QUANTITIES.values()]
    assert len(set(labels)) == len(labels)
    assert len(set(COLUMNS)) == len(COLUMNS)
    assert list(QUANTITIES) == [row.key for row in QUANTITIES.values()]


@pytest.mark.parametrize("key", KEYS)
def test_registry_row_holds_together(key: str) -> None:
    row = QUANTITIES[key]
    assert row.low < row.high
    assert row.repeatability >= 0
    assert row.how.endswith(".")
    assert row.formula is None or row.place is None
    if row.formula is not None:
        assert set(row.formula.inputs) <= set(COLUMNS) - {key}
    if row.default is not None:
        assert row.low <= row.default <= row.high
    if row.kind in {Kind.MEASURED, Kind.COUNTED, Kind.LOOKED_AT}:
        assert row.gauges
        assert not row.has_formula
    if row.kind is Kind.TAKEN_OR_DERIVED:
        assert row.gauges
        assert row.has_formula


def test_registry_rubber_repeats_within_common_practice() -> None:
    """0.02 to 0.05 mm on soft rubber: common practice, no source."""
    for end in ("rear", "front"):
        for size in ("diameter", "width"):
            assert 0.02 <= QUANTITIES[f"tyre_{size}_{end}"].repeatability <= 0.05


def test_registry_derives_what_the_tests_derive() -> None:
    assert all(QUANTITIES[key].has_formula for key in DERIVED)


def test_registry_each_place_on_the_standing_car_is_one_quantitys() -> None:
    places = [row.place for row in QUANTITIES.values() if row.place is not None]
    assert sorted(places) == sorted(Whereabouts)


def test_registry_tyre_sink_is_nothing_give_or_take() -> None:
    """0 ± 0.03: common practice, no source."""
    sink = QUANTITIES["tyre_sink"]
    assert (sink.default, sink.default_half_width) == (0.0, 0.03)


def test_words_stand_by_their_position() -> None:
    assert QUANTITIES["layout"].words is Layout
    assert QUANTITIES["front_carrier"].words is FrontCarrier
    assert QUANTITIES["axle_height_to"].words is AxleHeightTo
    assert QUANTITIES["axle_held"].words is AxleHeld
    assert QUANTITIES["compound"].words is None


def test_columns_lead_back_to_their_quantity() -> None:
    for key in QUANTITIES:
        sides = tuple(Side) if QUANTITIES[key].sided else (None,)
        assert [column_owner(one) for one in columns_of(key)] == [
            (key, side) for side in sides
        ]


def test_columns_of_unknown_quantity_are_refused() -> None:
    with pytest.raises(UnknownQuantityError, match="top_speed") as refused:
        columns_of("top_speed")
    assert refused.value.code == "unknown_quantity"


def test_column_of_no_quantity_is_refused() -> None:
    with pytest.raises(UnknownColumnError, match="wheelbase_middle") as refused:
        column_owner("wheelbase_middle")
    assert refused.value.code == "unknown_column"


# What a rulebook asks.


def asked(keys: tuple[str, ...], **options: object) -> set[str]:
    found = readings_to_take(keys, **options)  # type: ignore[arg-type]
    return {*found.tonight, *found.stored, *found.declared}


def test_readings_of_measured_rules_are_their_own() -> None:
    found = readings_to_take(["weight_car", "wheelbase", "layout"])
    assert found.tonight == ("weight_car",)
    assert found.stored == ("wheelbase_left", "wheelbase_right")
    assert found.declared == ("layout",)


def test_readings_of_a_derived_rule_are_what_it_needs() -> None:
    assert asked(("rollout",)) == {
        "tyre_diameter_rear_left",
        "tyre_diameter_rear_right",
        "teeth_gear",
        "teeth_pinion",
    }


def test_readings_of_form_are_taken_though_derived_from_repeats() -> None:
    assert readings_to_take(["out_of_round", "taper"]).tonight == (
        "out_of_round",
        "taper",
    )


def test_readings_taken_are_not_derived_too() -> None:
    assert asked(("clearance_gear",), taken=("clearance_gear",)) == {"clearance_gear"}
    assert "clearance_gear" not in asked(("clearance_gear",))


def test_readings_follow_what_carries_the_front() -> None:
    on_wheels = asked(("rake",))
    on_guide = asked(("rake",), front_carrier=FrontCarrier.GUIDE)
    assert "tyre_diameter_front_left" in on_wheels - on_guide
    assert {"guide_lead", "guide_flange_height"} <= on_guide - on_wheels


def test_readings_of_a_quantity_that_the_class_cannot_have_are_none() -> None:
    assert asked(("twist",), front_carrier=FrontCarrier.GUIDE) == set()


def test_readings_of_a_usual_rulebook_fit_the_night() -> None:
    found = readings_to_take(USUAL, taken=CLEARANCES)
    measured = [
        name
        for name in found.tonight
        if QUANTITIES[column_owner(name)[0]].kind is not Kind.LOOKED_AT
    ]
    assert len(measured) <= READINGS_A_NIGHT
    assert set(CLEARANCES) < set(found.tonight)
    assert "axle_height_rear_left" in found.stored


def test_readings_handle_the_car_least() -> None:
    found = readings_to_take(USUAL, taken=CLEARANCES)
    for columns in (found.tonight, found.stored):
        ranks = [QUANTITIES[column_owner(name)[0]].handling for name in columns]
        assert ranks == sorted(ranks)
    assert found.tonight[:2] == ("front_wheels_touch", "motor_sealed")
    assert found.tonight.index("clearance_gear") < found.tonight.index("weight_car")
    assert found.tonight.index("weight_car") < found.tonight.index(
        "tyre_diameter_rear_left"
    )


def test_readings_beyond_the_night_keep_a_rules_own_before_what_leads_to_one() -> None:
    found = readings_to_take(["track_rear", "body_width"], most_tonight=1)
    assert found.tonight == ("body_width",)
    assert found.stored == ("width_rear", "tyre_width_rear")


@given(st.lists(st.sampled_from(KEYS)), st.sampled_from(FrontCarrier), st.data())
@settings(max_examples=60)
def test_readings_are_asked_once_and_for_a_rule(
    keys: list[str], carrier: FrontCarrier, data: st.DataObject
) -> None:
    taken = data.draw(st.lists(st.sampled_from(keys)) if keys else st.just([]))
    found = readings_to_take(keys, taken=taken, front_carrier=carrier)
    every = [*found.tonight, *found.stored, *found.declared]
    assert len(set(every)) == len(every)
    reachable = {name for key in keys for name in inputs_of(key, carrier)}
    assert set(every) <= reachable
    for name in found.stored:
        assert QUANTITIES[column_owner(name)[0]].keeps is not Keeps.TONIGHT


@given(st.permutations(USUAL))
@settings(max_examples=20)
def test_readings_do_not_depend_on_the_order_of_the_rules(keys: list[str]) -> None:
    found = readings_to_take(keys, taken=CLEARANCES)
    expected = readings_to_take(USUAL, taken=CLEARANCES)
    assert set(found.tonight) | set(found.stored) == set(expected.tonight) | set(
        expected.stored
    )


def test_columns_are_plain_names() -> None:
    assert np.all([name.isidentifier() and name.islower() for name in COLUMNS])
