"""Remedies without a part, and the part that would help, by hand and by trying."""

import math

import numpy as np
import pytest

from inspection.compute.judging.evaluation import evaluate, margins
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.judging.rooms import room
from inspection.compute.remedies.changes import (
    Wish,
    Work,
    WorkRemedy,
    what_would_help,
    work_remedies,
)
from inspection.compute.what_if import TYRES
from inspection.compute.what_if.legality import NotOneCarError, TyresNotMeasuredError
from inspection.words.remedies import wish_words, work_words
from inventory.compute.stock.words import PartKind
from tests.inspection.compute.cars import make_field, make_rules
from tests.inspection.compute.fit.fit_cars import FLAT, one_car

Limits = dict[str, tuple[float | None, float | None]]


def works(values: dict[str, float], rules: Limits) -> dict[Work, WorkRemedy]:
    return {one.work: one for one in work_remedies(*one_car(values, rules))}


def test_ballast_is_what_is_missing() -> None:
    found = works({"weight_car": 178.73}, {"weight_car": (180.0, None)})
    assert set(found) == {Work.BALLAST}
    ballast = found[Work.BALLAST]
    # 1.27 g, up to the next tenth.
    assert ballast.amount == pytest.approx(1.3)
    assert work_words(ballast) == "Add 1.3 g of ballast."
    assert ballast.unit == "g"
    assert ballast.makes_legal
    assert ballast.cures == (0,)


def test_weight_over_the_most_comes_off() -> None:
    found = works({"weight_car": 190.0}, {"weight_car": (None, 188.0)})
    assert found[Work.LIGHTEN].amount == pytest.approx(2.0)
    assert work_words(found[Work.LIGHTEN]) == "Take 2.0 g off."


def test_ballast_may_not_go_over_the_most() -> None:
    # 179 where 180.05 to 180.06 is asked: no tenth lies between.
    assert works({"weight_car": 179.0}, {"weight_car": (180.05, 180.06)}) == {}


def test_a_swap_cures_a_stagger_the_wrong_way_round() -> None:
    values = {"tyre_diameter_rear_left": 20.1, "tyre_diameter_rear_right": 20.0}
    found = works(values, {"tyre_mismatch_rear": (None, 0.0)})
    assert work_words(found[Work.SWAP_REAR]) == "Swap the rear tyres left and right."
    assert found[Work.SWAP_REAR].makes_legal
    front = {"tyre_diameter_front_left": 18.1, "tyre_diameter_front_right": 18.0}
    found = works(front, {"tyre_mismatch_front": (None, 0.0)})
    assert set(found) == {Work.SWAP_FRONT}


def test_truing_goes_to_the_largest_size_that_is_legal() -> None:
    values = {"tyre_diameter_rear_left": 20.13, "tyre_diameter_rear_right": 20.02}
    found = works(values, {"tyre_mismatch_rear": (-0.05, 0.05)})
    # Both to the smaller.
    assert found[Work.TRUE_DOWN].amount == pytest.approx(20.02)
    assert work_words(found[Work.TRUE_DOWN]) == "True both rear tyres down to 20.02 mm."
    found = works(values, {"tyre_diameter_rear": (None, 19.5)})
    assert found[Work.TRUE_DOWN].amount == pytest.approx(19.5)


def test_truing_may_not_break_another_rule() -> None:
    values = {"tyre_diameter_rear_left": 20.0, "tyre_diameter_rear_right": 20.0}
    rules: Limits = {"tyre_diameter_rear": (None, 19.0), "clearance_rear": (1.2, None)}
    assert Work.TRUE_DOWN not in works(values, rules)


def test_the_body_is_raised_within_its_height() -> None:
    rules: Limits = {"clearance_body": (1.0, None), "body_height": (None, 40.0)}
    values = {"clearance_body": 0.55, "body_height": 39.0}
    found = works(values, rules)
    assert found[Work.RAISE_BODY].amount == pytest.approx(0.5)
    assert work_words(found[Work.RAISE_BODY]) == "Raise the body by 0.5 mm."
    assert works(values | {"body_height": 39.8}, rules) == {}


def test_guide_spacers_raise_or_lower_a_front_on_its_guide() -> None:
    on_guide = {"front_carrier": 1.0, "guide_flange_height": -1.0}
    rules: Limits = {"rake": (-0.1, 0.1)}
    # The rear is 1.5 up; 1.0 at the guide, 105 ahead: nose down by 0.27 degrees.  At
    # 0.1 degrees the front may be 105 tan 0.1 = 0.183 lower: 0.317, in steps of 0.05.
    found = works(on_guide, rules)
    assert found[Work.ADD_GUIDE_SPACERS].amount == pytest.approx(0.35)
    assert "Add 0.35 mm of spacers" in work_words(found[Work.ADD_GUIDE_SPACERS])
    found = works(on_guide | {"guide_flange_height": -2.0}, rules)
    assert found[Work.TAKE_GUIDE_SPACERS].amount == pytest.approx(0.35)
    # Front wheels that carry the car leave the guide no say.
    low_front = {"axle_height_front_left": 7.0, "axle_height_front_right": 7.0}
    on_wheels = works(low_front | {"guide_flange_height": -1.0}, rules)
    assert not on_wheels.keys() & {Work.ADD_GUIDE_SPACERS, Work.TAKE_GUIDE_SPACERS}


def test_what_makes_the_car_legal_comes_first() -> None:
    # Under weight, and a stagger that a swap or the lathe cures: neither does both.
    rules: Limits = {"weight_car": (185.0, None), "tyre_mismatch_rear": (None, 0.0)}
    values = {"tyre_diameter_rear_left": 20.1}
    found = work_remedies(*one_car(values, rules))
    assert {one.work for one in found} == {Work.BALLAST, Work.SWAP_REAR, Work.TRUE_DOWN}
    assert not any(one.makes_legal for one in found)
    found = work_remedies(
        *one_car(
            {"weight_car": 187.0, "clearance_body": 0.5},
            {"weight_car": (None, 186.0), "clearance_body": (0.6, None)},
        )
    )
    assert [one.cures for one in found] == [(0,), (1,)]


def test_each_work_does_what_it_says() -> None:
    """The car made anew with the amount keeps the rules that are said to be cured."""
    rules: Limits = {
        "tyre_mismatch_rear": (-0.05, 0.05),
        "clearance_rear": (0.9, None),
        "weight_car": (182.0, None),
    }
    values = {"tyre_diameter_rear_left": 20.3, "tyre_diameter_rear_right": 20.1}
    found = works(values, rules)
    size, ballast = found[Work.TRUE_DOWN].amount, found[Work.BALLAST].amount
    after = make_field([
        FLAT | dict.fromkeys(values, size),
        FLAT | values | {"weight_car": 181.0 + ballast},
    ])  # fmt: skip
    margin = evaluate(make_rules(after, rules), after).margin
    assert (margin[0, list(found[Work.TRUE_DOWN].cures)] >= 0).all()
    assert (margin[1, list(found[Work.BALLAST].cures)] >= 0).all()


def wishes(values: dict[str, float], rules: Limits) -> dict[str, Wish]:
    return {one.column: one for one in what_would_help(*one_car(values, rules))}


def test_a_gear_too_large_wishes_for_one_of_at_most_so_much() -> None:
    # (20 - d) / 2 of at least 1.45 is 17.1 at most.
    found = wishes({"gear_diameter": 18.0}, {"clearance_gear": (1.45, None)})
    gear = found["gear_diameter"]
    assert wish_words(gear) == "a gear of at most 17.1 mm"
    assert (gear.kind, gear.lowest, gear.highest) == (PartKind.GEAR, None, 17.1)
    assert gear.makes_legal
    # Or tyres: of 20.9 they would leave 1.45 along z, but with the tail up by 0.45
    # over 95 that is 1.44998 square to the ground.
    tyres = found["tyre_diameter_rear"]
    assert tyres.kind is PartKind.TYRE
    assert wish_words(tyres) == "rear tyres of at least 21.0 mm"


def test_a_range_is_rounded_inwards() -> None:
    # 17.12 and 16.68 in whole tenths.
    rules: Limits = {"clearance_gear": (1.44, 1.66)}
    gear = wishes({"gear_diameter": 18.0}, rules)["gear_diameter"]
    assert wish_words(gear) == "a gear of 16.7 to 17.1 mm"


def test_a_ratio_out_of_limits_wishes_for_teeth() -> None:
    found = wishes({"teeth_gear": 40.0}, {"gear_ratio": (2.5, 4.0)})
    # 9 times 2.5 and 4: 22.5 to 36.
    assert wish_words(found["teeth_gear"]) == "a gear of 23 to 36 teeth"
    assert set(found) == {"teeth_gear"}


@pytest.mark.parametrize(
    ("values", "rules", "sentence"),
    [
        (
            {"can_height": 18.0},
            {"can_height": (None, 17.05)},
            "a motor with a can height of at most 17.0 mm",
        ),
        (
            {"motor_speed": 31_000.0},
            {"motor_speed": (None, 30_000.0)},
            "a motor with a speed of at most 30,000 rpm",
        ),
        (
            {"motor_resistance": 1.9},
            {"motor_resistance": (2.0, None)},
            "a motor with a winding of at least 2.00 ohm",
        ),
    ],
)
def test_a_motor_out_of_limits_wishes_for_another(
    values: dict[str, float], rules: Limits, sentence: str
) -> None:
    assert [wish_words(one) for one in what_would_help(*one_car(values, rules))] == [
        sentence
    ]


def test_a_part_that_would_break_another_rule_is_no_help() -> None:
    rules: Limits = {
        "clearance_gear": (1.45, None),
        "gear_diameter": (17.5, None),
        "tyre_diameter_rear": (None, 20.5),
    }
    assert wishes({"gear_diameter": 18.0}, rules) == {}


def test_a_wish_that_any_usual_size_grants_says_so() -> None:
    found = wishes({"gear_diameter": 31.0}, {"gear_diameter": (None, 30.0)})
    assert wish_words(found["gear_diameter"]) == "a gear of any usual size"


def test_a_legal_car_needs_nothing() -> None:
    assert work_remedies(*one_car()) == ()
    assert what_would_help(*one_car()) == ()


def test_what_makes_legal_is_wished_for_first() -> None:
    rules: Limits = {
        "gear_ratio": (2.5, 4.0),
        "clearance_gear": (1.45, None),
        "rollout": (16.0, None),
    }
    values = {"gear_diameter": 18.0, "teeth_gear": 40.0}
    found = what_would_help(*one_car(values, rules))
    assert [one.makes_legal for one in found] == sorted(
        (one.makes_legal for one in found), reverse=True
    )


GUARDED = DecisionRule.GUARDED_ACCEPTANCE


def test_work_under_guarded_acceptance_leaves_the_car_admitted() -> None:
    """Each amount put on the car and judged again; half of it is refused."""
    cases: list[tuple[dict[str, float], Limits, str]] = [
        ({"weight_car": 179.0}, {"weight_car": (180.0, None)}, "weight_car"),
        # Refused as a conditional pass: inside, and not by the guard band.
        ({"weight_car": 180.01}, {"weight_car": (180.0, None)}, "weight_car"),
    ]
    for values, rules, column in cases:
        rulebook, car = one_car(values, rules, decision_rule=GUARDED)
        assert not evaluate(rulebook, car).admitted.all()
        (work,) = work_remedies(rulebook, car)
        assert work.makes_legal
        heavier = values | {column: values[column] + work.amount}
        again = evaluate(*one_car(heavier, rules, decision_rule=GUARDED))
        assert again.admitted.all()
        less = values | {column: values[column] + work.amount - 0.1}
        assert not evaluate(*one_car(less, rules, decision_rule=GUARDED)).admitted.all()


def test_truing_under_guarded_acceptance_leaves_the_car_admitted() -> None:
    # 20.01 where at most 20.00 is allowed.
    values = dict.fromkeys(TYRES, 20.01)
    rules: Limits = {"tyre_diameter_rear": (None, 20.0)}
    (work,) = (
        one
        for one in work_remedies(*one_car(values, rules, decision_rule=GUARDED))
        if one.work is Work.TRUE_DOWN
    )
    trued = dict.fromkeys(TYRES, work.amount)
    found = evaluate(*one_car(trued, rules, decision_rule=GUARDED))
    assert found.admitted.all()
    # 1.645 √(0.01² + 0.01²) = 0.0233.
    assert work.amount == pytest.approx(19.97)


def test_a_wish_under_guarded_acceptance_is_inside_by_the_guard_band() -> None:
    wish = {
        one.column: one
        for one in what_would_help(
            *one_car(
                {"motor_speed": 25_300.0},
                {"motor_speed": (None, 25_000.0)},
                decision_rule=GUARDED,
            )
        )
    }["motor_speed"]
    # The reading's own doubt, 0.014 rpm, and a hundred as a step.
    assert wish.highest == pytest.approx(24_900.0)


def test_rooms_are_margins_but_for_the_guard_band() -> None:
    """Against what the rules find, over cars of all kinds."""
    rng = np.random.default_rng(3)
    cars = [
        {
            name: value + (0.0 if name in {"layout", "front_carrier"} else u)
            for (name, value), u in zip(
                FLAT.items(), rng.normal(0, 0.05, len(FLAT)), strict=True
            )
        }
        for _ in range(200)
    ]
    field = make_field(cars)
    limits: Limits = {
        "clearance_rear": (1.4, 1.6),
        "clearance_gear": (2.7, None),
        "weight_car": (181.0, 181.05),
        "tilt": (-0.02, 0.02),
        "rake": (None, 0.01),
    }
    for rule in DecisionRule:
        rulebook = make_rules(field, limits, decision_rule=rule)
        rooms = room(rulebook, field).of_rules(rulebook.count)
        found = evaluate(rulebook, field)
        if rule is GUARDED:
            np.testing.assert_array_equal(rooms >= 0, found.admitted)
        else:
            np.testing.assert_allclose(rooms, margins(rulebook, field), atol=1e-9)


# A car that rocks: the front right wheel off the block, or too low.


@pytest.mark.parametrize("height", [7.2, 7.8])
@pytest.mark.parametrize("rule", DecisionRule)
def test_a_rocking_car_gets_the_work_that_cures_it(
    height: float, rule: DecisionRule
) -> None:
    """Each is done to the car by its own words, and the car judged again."""
    values = {"axle_height_front_right": height}
    rules: Limits = {"twist": (-0.1, 0.1)}
    found = works_of(values, rules, rule)
    assert set(found) == {Work.TRUE_ONE, Work.SHIM_AXLE, Work.BEND}
    for one in found.values():
        assert one.makes_legal
        again = evaluate(
            *one_car(done(values, work_words(one)), rules, decision_rule=rule)
        )
        assert again.admitted.all(), work_words(one)


def works_of(
    values: dict[str, float], rules: Limits, rule: DecisionRule
) -> dict[Work, WorkRemedy]:
    found = work_remedies(*one_car(values, rules, decision_rule=rule))
    return {one.work: one for one in found}


def done(values: dict[str, float], sentence: str) -> dict[str, float]:
    """Do what a sentence says, by plain geometry."""
    car = FLAT | values
    (amount,) = (float(word) for word in sentence.split() if word[:1].isdigit())
    words = sentence.replace(",", "").split()
    if words[0] == "True":
        return car | {f"tyre_diameter_{words[2]}_{words[3]}": amount}
    if words[0] == "Set":
        column = f"axle_height_{words[2]}_{words[words.index('by') - 1]}"
        return car | {column: car[column] + amount * (1 if "higher" in words else -1)}
    down = words[words.index("wheel") - 1]
    up = "left" if down == "right" else "right"
    # Half of it on either side, read 38 apart under wheels 60 apart.
    half = amount / 2 * 38 / 60
    return car | {
        f"axle_height_front_{down}": car[f"axle_height_front_{down}"] - half,
        f"axle_height_front_{up}": car[f"axle_height_front_{up}"] + half,
    }


def test_wheels_that_do_not_touch_are_brought_down() -> None:
    rules: Limits = {"front_wheels_touch": (1.0, None)}
    values = {"front_wheels_touch": 0.0, "axle_height_front_right": 7.8}
    found = works(values, rules)
    assert set(found) == {Work.TRUE_ONE, Work.SHIM_AXLE, Work.BEND}
    assert all(one.makes_legal for one in found.values())
    unmeasured = {"front_wheels_touch": 0.0, "axle_height_front_right": math.nan}
    tyre = {"front_wheels_touch": 0.0, "tyre_diameter_front_left": math.nan}
    assert set(works(tyre, rules)) == {Work.STOP_ROCKING}
    (one,) = work_remedies(*one_car(unmeasured, rules))
    assert one.work is Work.STOP_ROCKING
    assert one.makes_legal


def test_bad_questions_are_refused() -> None:
    two = make_field([FLAT, FLAT])
    rulebook = make_rules(two, {"weight_car": (180.0, None)})
    unread = one_car({"tyre_diameter_rear_right": math.nan})
    for ask in (work_remedies, what_would_help):
        with pytest.raises(NotOneCarError):
            ask(rulebook, two)
        with pytest.raises(TyresNotMeasuredError):
            ask(*unread)
