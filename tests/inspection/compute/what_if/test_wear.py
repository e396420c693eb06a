"""The wear at which the first rule breaks, against a fine scan and by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.compute.judging.evaluation import Field, Rules, evaluate
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.what_if.legality import NotOneCarError, TyresNotMeasuredError
from inspection.compute.what_if.wear_limits import NotAWearError, wear_limit
from tests.inspection.compute.cars import make_field, make_rules
from tests.inspection.compute.fit.fit_cars import FLAT, one_car

#: Rules of both kinds on what wears; the car of the tests, 20.00 and level at 1.50,
#: keeps them all.
KEPT: dict[str, tuple[float | None, float | None]] = {
    "clearance_rear": (0.8, None),
    "clearance_gear": (0.8, None),
    "tyre_diameter_rear": (18.5, None),
}


def worn(car: dict[str, float], wear_mm: float) -> dict[str, float]:
    return car | {
        name: car[name] - wear_mm
        for name in ("tyre_diameter_rear_left", "tyre_diameter_rear_right")
    }


def first_break_by_fine_scan(
    car: dict[str, float], limits: dict[str, tuple[float | None, float | None]]
) -> tuple[float, int | None]:
    """Every 0.001 mm, each car made anew from its figures and judged in full."""
    field = make_field([worn(car, step / 1000) for step in range(3001)])
    margin = evaluate(make_rules(field, limits), field).margin
    broken = np.asarray((margin < 0).any(axis=1))
    if broken[0]:
        return 0.0, int(np.argmin(margin[0]))
    if not broken.any():
        return math.inf, None
    first = int(np.argmax(broken))
    return (first - 1) / 1000, int(np.argmin(margin[first]))


#: Diameters to the hundredth, as a caliper shows them.
@settings(max_examples=10, deadline=None)
@given(
    left=st.integers(1900, 2150),
    right=st.integers(1900, 2150),
    gear=st.integers(1400, 1900),
    least_rear=st.integers(0, 160),
    least_gear=st.integers(0, 200),
    least_tyre=st.integers(1700, 1950),
    most_front=st.integers(140, 170),
)
def test_first_break_is_that_of_a_fine_scan(
    left: int,
    right: int,
    gear: int,
    least_rear: int,
    least_gear: int,
    least_tyre: int,
    most_front: int,
) -> None:
    car = FLAT | {
        "tyre_diameter_rear_left": left / 100,
        "tyre_diameter_rear_right": right / 100,
        "gear_diameter": gear / 100,
    }
    limits: dict[str, tuple[float | None, float | None]] = {
        "clearance_rear": (least_rear / 100, None),
        "clearance_gear": (least_gear / 100, None),
        "tyre_diameter_rear": (least_tyre / 100, None),
        "ride_height_front": (None, most_front / 100),
    }
    rulebook, field = one_car(car, limits)
    wear, rule = first_break_by_fine_scan(car, limits)
    found = wear_limit(rulebook, field)
    assert found.wear == pytest.approx(wear, abs=1e-9)
    assert found.rule == rule


def test_level_car_by_hand() -> None:
    # Clearance 1.50 at 20.00 under a flat chassis level from nose to tail: the tail
    # 12 behind the axle sinks 1 + 12/95 as fast, the gear 5.5 mm smaller than the
    # tyres is clear by 2.75; the tyre may lose 1.5 before it is below 18.5.
    rulebook, car = one_car(rules=KEPT)
    found = wear_limit(rulebook, car)
    # 0.7 of clearance at the tail: w/2 (1 + 12/95) = 0.7, seen square to the
    # ground a hair more.
    assert found.wear == pytest.approx(1.4 / (1 + 12 / 95), abs=2e-3)
    assert found.rule == 0
    assert found.tyre_diameter == pytest.approx(20.0 - found.wear)


def test_nights_are_the_wear_over_that_of_one() -> None:
    rulebook, car = one_car(rules={"tyre_diameter_rear": (19.0, None)})
    found = wear_limit(rulebook, car, wear_per_night_mm=0.08)
    assert found.wear == pytest.approx(1.0)
    assert found.nights == pytest.approx(12.5)
    assert math.isnan(wear_limit(rulebook, car).nights)


def test_already_failing_is_no_wear_and_the_rule() -> None:
    rulebook, car = one_car(
        rules={"weight_car": (100.0, None), "clearance_gear": (3.0, None)}
    )
    found = wear_limit(rulebook, car)
    assert (found.wear, found.rule) == (0.0, 1)
    assert found.tyre_diameter == pytest.approx(20.0)


def test_none_within_three_millimetres_is_said_so() -> None:
    rulebook, car = one_car(rules={"tyre_diameter_rear": (17.0, None)})
    found = wear_limit(rulebook, car, wear_per_night_mm=0.1)
    assert found.rule is None
    assert math.isinf(found.wear)
    assert math.isinf(found.nights)
    assert math.isnan(found.tyre_diameter)


def test_an_advisory_rule_stops_no_one() -> None:
    rulebook, car = one_car(rules={"tyre_diameter_rear": (19.0, None)})
    advisory = replace(rulebook, mandatory=np.array([False]))
    assert wear_limit(advisory, car).rule is None


def test_a_maximum_may_be_what_breaks() -> None:
    # The nose comes up as the tail goes down: rake is positive nose down.
    rulebook, car = one_car(rules={"rake": (-0.2, None)})
    found = wear_limit(rulebook, car)
    # Half the wear over the wheelbase of 95.
    assert found.wear == pytest.approx(2 * 95 * math.tan(math.radians(0.2)), abs=1e-3)


def test_a_rule_not_measured_is_named() -> None:
    rulebook, car = one_car(
        {"gear_position_y": math.nan},
        {"clearance_gear": (0.8, None), "tyre_diameter_rear": (19.0, None)},
    )
    found = wear_limit(rulebook, car)
    assert found.not_judged == (0,)
    assert found.wear == pytest.approx(1.0)


def test_a_taken_clearance_wears_with_the_derived_one() -> None:
    # Derived 2.75 below the gear, taken 2.65: 0.1 less wear on each side.
    rules = {"clearance_gear": (2.45, None)}
    derived = wear_limit(*one_car(rules=rules)).wear
    taken = wear_limit(*one_car({"clearance_gear": 2.65}, rules)).wear
    assert derived == pytest.approx(0.6, abs=2e-3)
    assert taken == pytest.approx(0.4, abs=2e-3)


def test_a_clearance_at_an_unknown_place_falls_by_half_the_wear() -> None:
    rulebook, car = one_car(
        {"clearance_magnet": 1.3}, {"clearance_magnet": (1.0, None)}
    )
    assert wear_limit(rulebook, car).wear == pytest.approx(0.6)


def go_gauge(says: int) -> tuple[Rules, Field]:
    rulebook, car = one_car({"clearance_gear": 0.8}, {"clearance_gear": (0.8, None)})
    bound = np.zeros(car.value.shape, dtype=np.int8)
    bound[0, car.columns.index("clearance_gear")] = says
    return rulebook, replace(car, bound=bound)


def test_a_limit_slip_that_goes_leaves_the_derived_clearance() -> None:
    rulebook, car = go_gauge(1)
    found = wear_limit(rulebook, car)
    # Derived 2.75: all of 1.95 may go, more than is looked at.
    assert found.rule is None


def test_a_limit_slip_that_does_not_go_is_broken_now() -> None:
    rulebook, car = go_gauge(-1)
    found = wear_limit(rulebook, car)
    assert (found.wear, found.rule) == (0.0, 0)


def test_a_limit_slip_without_geometry_says_nothing_of_wear() -> None:
    rulebook, car = go_gauge(1)
    value = car.value.copy()
    value[0, car.columns.index("wheelbase_left")] = math.nan
    found = wear_limit(rulebook, replace(car, value=value))
    assert found.not_judged == (0,)


@pytest.mark.parametrize("decision_rule", DecisionRule)
def test_tyres_worn_to_the_end_are_admitted_and_no_further(
    decision_rule: DecisionRule,
) -> None:
    """The car with tyres of that size, judged again by its own decision rule."""
    found = wear_limit(*one_car(rules=KEPT, decision_rule=decision_rule))
    for more, legal in ((0.0, True), (0.002, False)):
        tyres = worn(FLAT, found.wear + more)
        rulebook, car = one_car(tyres, KEPT, decision_rule=decision_rule)
        said = evaluate(rulebook, car)
        keeps = bool((said.admitted & (said.margin >= 0)).all())
        assert keeps == legal


def test_bad_questions_are_refused() -> None:
    rulebook, car = one_car()
    for wear in (0.0, -0.1, math.nan, math.inf):
        with pytest.raises(NotAWearError) as refusal:
            wear_limit(rulebook, car, wear_per_night_mm=wear)
        assert refusal.value.code == "not_a_wear"
    with pytest.raises(TyresNotMeasuredError) as unread:
        wear_limit(*one_car({"tyre_diameter_rear_left": math.nan}))
    assert unread.value.code == "tyres_not_measured"
    two = make_field([FLAT, FLAT])
    with pytest.raises(NotOneCarError) as many:
        wear_limit(make_rules(two, KEPT), two)
    assert many.value.code == "not_one_car"
