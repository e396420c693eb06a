"""Remedies without a part, and the part that would help, by hand and by trying."""

import math

import pytest

from inspection.compute.legality import NotOneCarError, TyresNotMeasuredError
from inspection.compute.remedies import (
    Wish,
    Work,
    WorkRemedy,
    what_would_help,
    work_remedies,
)
from inspection.compute.rules import evaluate
from inventory.compute.stock import PartKind
from tests.inspection.compute.cars import make_field, make_rules
from tests.inspection.compute.fit_cars import FLAT, one_car

Limits = dict[str, tuple[float | None, float | None]]


def works(values: dict[str, float], rules: Limits) -> dict[Work, WorkRemedy]:
    return {one.work: one for one in work_remedies(*one_car(values, rules))}


def test_ballast_is_what_is_missing() -> None:
    found = works({"weight_car": 178.73}, {"weight_car": (180.0, None)})
    assert set(found) == {Work.BALLAST}
    ballast = found[Work.BALLAST]
    # 1.27 g, up to the next tenth.
    assert ballast.amount == pytest.approx(1.3)
    assert ballast.sentence == "Add 1.3 g of ballast."
    assert ballast.unit == "g"
    assert ballast.makes_legal
    assert ballast.cures == (0,)


def test_weight_over_the_most_comes_off() -> None:
    found = works({"weight_car": 190.0}, {"weight_car": (None, 188.0)})
    assert found[Work.LIGHTEN].amount == pytest.approx(2.0)
    assert found[Work.LIGHTEN].sentence == "Take 2.0 g off."


def test_ballast_may_not_go_over_the_most() -> None:
    # 179 where 180.05 to 180.06 is asked: no tenth lies between.
    assert works({"weight_car": 179.0}, {"weight_car": (180.05, 180.06)}) == {}


def test_a_swap_cures_a_stagger_the_wrong_way_round() -> None:
    values = {"tyre_diameter_rear_left": 20.1, "tyre_diameter_rear_right": 20.0}
    found = works(values, {"tyre_mismatch_rear": (None, 0.0)})
    assert found[Work.SWAP_REAR].sentence == "Swap the rear tyres left and right."
    assert found[Work.SWAP_REAR].makes_legal
    front = {"tyre_diameter_front_left": 18.1, "tyre_diameter_front_right": 18.0}
    found = works(front, {"tyre_mismatch_front": (None, 0.0)})
    assert set(found) == {Work.SWAP_FRONT}


def test_truing_goes_to_the_largest_size_that_is_legal() -> None:
    values = {"tyre_diameter_rear_left": 20.13, "tyre_diameter_rear_right": 20.02}
    found = works(values, {"tyre_mismatch_rear": (-0.05, 0.05)})
    # Both to the smaller.
    assert found[Work.TRUE_DOWN].amount == pytest.approx(20.02)
    assert found[Work.TRUE_DOWN].sentence == "True both rear tyres down to 20.02 mm."
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
    assert found[Work.RAISE_BODY].sentence == "Raise the body by 0.5 mm."
    assert works(values | {"body_height": 39.8}, rules) == {}


def test_guide_spacers_raise_or_lower_a_front_on_its_guide() -> None:
    on_guide = {"front_carrier": 1.0, "guide_flange_height": -1.0}
    rules: Limits = {"rake": (-0.1, 0.1)}
    # The rear is 1.5 up; 1.0 at the guide, 105 ahead: nose down by 0.27 degrees.  At
    # 0.1 degrees the front may be 105 tan 0.1 = 0.183 lower: 0.317, in steps of 0.05.
    found = works(on_guide, rules)
    assert found[Work.ADD_GUIDE_SPACERS].amount == pytest.approx(0.35)
    assert "Add 0.35 mm of spacers" in found[Work.ADD_GUIDE_SPACERS].sentence
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
    assert gear.sentence == "a gear of at most 17.1 mm"
    assert (gear.kind, gear.lowest, gear.highest) == (PartKind.GEAR, None, 17.1)
    assert gear.makes_legal
    # Or tyres: of 20.9 they would leave 1.45 along z, but with the tail up by 0.45
    # over 95 that is 1.44998 square to the ground.
    tyres = found["tyre_diameter_rear"]
    assert tyres.kind is PartKind.TYRE
    assert tyres.sentence == "rear tyres of at least 21.0 mm"


def test_a_range_is_rounded_inwards() -> None:
    # 17.12 and 16.68 in whole tenths.
    rules: Limits = {"clearance_gear": (1.44, 1.66)}
    gear = wishes({"gear_diameter": 18.0}, rules)["gear_diameter"]
    assert gear.sentence == "a gear of 16.7 to 17.1 mm"


def test_a_ratio_out_of_limits_wishes_for_teeth() -> None:
    found = wishes({"teeth_gear": 40.0}, {"gear_ratio": (2.5, 4.0)})
    # 9 times 2.5 and 4: 22.5 to 36.
    assert found["teeth_gear"].sentence == "a gear of 23 to 36 teeth"
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
    assert [one.sentence for one in what_would_help(*one_car(values, rules))] == [
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
    assert found["gear_diameter"].sentence == "a gear of any usual size"


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


def test_bad_questions_are_refused() -> None:
    two = make_field([FLAT, FLAT])
    rulebook = make_rules(two, {"weight_car": (180.0, None)})
    unread = one_car({"tyre_diameter_rear_right": math.nan})
    for ask in (work_remedies, what_would_help):
        with pytest.raises(NotOneCarError):
            ask(rulebook, two)
        with pytest.raises(TyresNotMeasuredError):
            ask(*unread)
