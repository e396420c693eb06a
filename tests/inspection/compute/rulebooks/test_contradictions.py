"""What cannot be meant in a rulebook; meeting cars are looked for by brute force."""

from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.quantities.quantity import FrontCarrier
from inspection.compute.rulebooks.conflicting_rules import (
    Contradiction,
    Fault,
    Surroundings,
    contradictions,
)
from inspection.compute.rulebooks.requirements import Answer, Force, Stage
from inspection.compute.rulebooks.text import RulebookText, RuleText
from inspection.words.contradictions import contradiction_words

WHEELS, GUIDE = frozenset({FrontCarrier.FRONT_WHEELS}), frozenset({FrontCarrier.GUIDE})
AROUND = Surroundings(classes={"Saloon": WHEELS, "Open": GUIDE}, u={})


def rule(number: str, quantity: str, **said: Any) -> RuleText:
    limits = {
        name: round(said.pop(name) * 1_000_000)
        for name in ("lower", "upper", "lower_after", "upper_after")
        if name in said
    }
    return RuleText(
        number=number, sentence="A rule.", quantity=quantity, **limits, **said
    )


WEIGHT = rule("1", "weight_car", lower=80)


def found(*rules: RuleText, around: Surroundings = AROUND) -> tuple[Contradiction, ...]:
    text = RulebookText(
        rulebook="Hall rules",
        edition=1,
        decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
        confidence=Decimal("0.95"),
        note="",
        rules=rules,
    )
    return contradictions(text, around)


def test_sound_rulebook_has_none() -> None:
    assert found(WEIGHT, rule("2", "tyre_diameter_rear", lower=18, upper=22)) == ()


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (rule("2", "weight_car", upper=79), "at least 80.0 g and at most 79.0 g"),
        (
            rule("2", "weight_car", upper=90, upper_after=79.5),
            "at least 80.0 g and at most 79.5 g",
        ),
        (rule("2", "weight_car", upper=79, classes=("Open",)), "at most 79.0 g"),
        (rule("2", "weight_car", upper=79, stage=Stage.AFTER), "at most 79.0 g"),
        (
            rule(
                "2",
                "weight_car",
                upper=79,
                condition_key="layout",
                condition_word="in-line",
            ),
            "at most 79.0 g",
        ),
    ],
)
def test_two_limits_that_no_car_meets_are_named(other: RuleText, words: str) -> None:
    (one,) = found(WEIGHT, other)
    assert (one.fault, one.rules, one.blocks) == (
        Fault.NO_CAR_MEETS_BOTH,
        ("1", "2"),
        True,
    )
    assert words in contradiction_words(one)


def test_yes_and_no_are_named() -> None:
    (one,) = found(
        rule("1", "motor_sealed", required=Answer.YES),
        rule("2", "motor_sealed", required=Answer.NO),
    )
    assert one.fault is Fault.NO_CAR_MEETS_BOTH
    assert "yes and no" in contradiction_words(one)


@pytest.mark.parametrize(
    "pair",
    [
        ({"classes": ("Saloon",)}, {"classes": ("Open",)}),
        ({"stage": Stage.BEFORE}, {"stage": Stage.AFTER}),
        (
            {"condition_key": "layout", "condition_word": "in-line"},
            {"condition_key": "layout", "condition_word": "sidewinder"},
        ),
    ],
)
def test_rules_that_speak_of_other_cars_do_not_exclude_each_other(
    pair: tuple[dict[str, Any], dict[str, Any]],
) -> None:
    heavy = rule("1", "weight_car", lower=80, **pair[0])
    light = rule("2", "weight_car", upper=70, **pair[1])
    assert not [one for one in found(heavy, light) if one.blocks]


def test_advisory_rule_that_excludes_another_does_not_block() -> None:
    (one,) = found(WEIGHT, rule("2", "weight_car", upper=79, force=Force.ADVISORY))
    assert one.fault is Fault.NO_CAR_MEETS_BOTH
    assert not one.blocks


LIMITS = st.one_of(st.none(), st.integers(78, 84))


@given(st.lists(st.tuples(LIMITS, LIMITS, LIMITS, LIMITS), min_size=1, max_size=3))
def test_no_car_meets_the_rules_just_where_something_blocks(
    rows: list[tuple[int | None, int | None, int | None, int | None]],
) -> None:
    """
    Weights from 77 to 85 g in whole grams, tried one by one.

    Rules on one number exclude each other all together just where two of them do,
    or one does by itself.
    """
    names = ("lower", "upper", "lower_after", "upper_after")
    rules = [
        rule(
            str(number),
            "weight_car",
            **{n: g for n, g in zip(names, row, strict=True) if g is not None},
        )
        for number, row in enumerate(rows)
    ]

    def meets(grams: int, stage: Stage) -> bool:
        limits = [one.limits(stage) for one in rules]
        return all(
            (low is None or grams * 10**6 >= low)
            and (high is None or grams * 10**6 <= high)
            for low, high in limits
        )

    possible = {
        stage: any(meets(grams, stage) for grams in range(77, 86))
        for stage in (Stage.BEFORE, Stage.AFTER)
    }
    blocked = any(one.blocks for one in found(*rules))
    assert blocked == (not all(possible.values()))


def test_limits_crossed_after_the_race_are_named() -> None:
    (one,) = found(rule("1", "weight_car", lower=80, upper=90, upper_after=79))
    assert (one.fault, one.blocks) == (Fault.LIMITS_CROSSED, True)
    assert "after the race" in contradiction_words(one)


def test_limit_outside_the_plausible_range_is_named_with_the_range() -> None:
    (one,) = found(rule("1", "clearance_rear", lower=8))
    assert one.fault is Fault.NOT_PLAUSIBLE
    assert "8.00 mm is outside" in contradiction_words(one)
    assert "0.20 mm to 5.00 mm" in contradiction_words(one)


def test_narrow_limits_are_named_where_nothing_can_pass() -> None:
    """At 95 % two limits need 3.92 u between them (1.96 either side, C1-04)."""
    narrow = rule("1", "weight_car", lower=80, upper=80.39)
    wide = rule("1", "weight_car", lower=80, upper=80.4)
    around = replace(AROUND, u={"weight_car": 0.1})
    (one,) = found(narrow, around=around)
    assert one.fault is Fault.NO_VALUE_PASSES
    assert "u about 0.1 g" in contradiction_words(one)
    assert found(wide, around=around) == ()


def test_class_without_rule_is_named() -> None:
    (one,) = found(replace(WEIGHT, classes=("Saloon",)))
    assert (one.fault, contradiction_words(one)) == (
        Fault.CLASS_WITHOUT_RULE,
        "No rule speaks of Open.",
    )


def test_class_of_another_rulebook_is_named() -> None:
    (one,) = found(WEIGHT, rule("2", "weight_car", upper=99, classes=("Lorry",)))
    assert one.fault is Fault.CLASS_ELSEWHERE
    assert "Lorry" in contradiction_words(one)


@pytest.mark.parametrize(
    ("classes", "condition", "count"),
    [
        ((), ("", ""), 1),
        (("Open",), ("", ""), 1),
        (("Saloon",), ("", ""), 0),
        ((), ("front_carrier", "guide"), 1),
        ((), ("front_carrier", "front wheels"), 0),
    ],
)
def test_quantity_that_a_class_cannot_have_is_named(
    classes: tuple[str, ...], condition: tuple[str, str], count: int
) -> None:
    """On the guide, three points carry the car: no fourth wheel can be off."""
    twist = rule(
        "2",
        "twist",
        lower=-0.4,
        upper=0.4,
        classes=classes,
        condition_key=condition[0],
        condition_word=condition[1],
    )
    named = [one for one in found(WEIGHT, twist) if one.fault is Fault.NO_SUCH_QUANTITY]
    assert len(named) == count


def test_class_without_cars_may_have_any_quantity() -> None:
    around = Surroundings(classes={"New": frozenset()}, u={})
    assert found(rule("1", "twist", upper=0.4), around=around) == ()


def test_limit_for_after_the_race_that_is_never_asked_is_named() -> None:
    (one,) = found(
        rule("1", "weight_car", lower=80, lower_after=79, stage=Stage.BEFORE)
    )
    assert one.fault is Fault.NEVER_ASKED


def test_what_blocks_comes_first() -> None:
    faults = found(
        rule("1", "clearance_rear", lower=8),
        rule("2", "weight_car", lower=80),
        rule("3", "weight_car", upper=79),
    )
    assert [one.blocks for one in faults] == [True, False]


def test_every_pair_of_stages_is_tried() -> None:
    for one, other in product(Stage, repeat=2):
        clash = found(
            rule("1", "weight_car", lower=80, stage=one),
            rule("2", "weight_car", upper=79, stage=other),
        )
        meet = one is other or Stage.BOTH in {one, other}
        assert bool(clash) is meet


RATIO = rule("2.1", "gear_ratio", lower=3.5)
PINION = rule("2.2", "teeth_pinion", lower=9, upper=11)
GEAR = rule("2.3", "teeth_gear", lower=27, upper=30)
TYRE = rule("3.1", "tyre_diameter_rear", lower=18, upper=19)
AXLE = rule("3.2", "axle_height_rear", lower=8.6, upper=9)


def test_rules_that_hang_together_by_a_formula() -> None:
    # At most 30 / 9 = 3.33; it takes the most of the gear and the least of the pinion.
    (one,) = found(WEIGHT, RATIO, PINION, GEAR)
    assert (one.fault, one.blocks) == (Fault.NO_CAR_MEETS_ALL, True)
    assert one.rules == ("2.3", "2.2", "2.1")
    assert "3.33" in contradiction_words(one)
    assert "at least 3.5" in contradiction_words(one)
    # Without the pinion's rule the registry's 6 teeth leave 30 / 6 = 5: no clash.
    assert found(WEIGHT, RATIO, GEAR) == ()
    (advised,) = found(WEIGHT, replace(RATIO, force=Force.ADVISORY), PINION, GEAR)
    assert not advised.blocks
    elsewhere = replace(PINION, classes=("Open",)), replace(GEAR, classes=("Saloon",))
    assert found(WEIGHT, RATIO, *elsewhere) == ()


def test_rules_that_hang_together_by_two_formulas() -> None:
    # Rollout at least pi * 18 / (30 / 9): 16.96 mm; the ratio has no rule of its own.
    low = rule("4", "rollout", upper=16.9)
    (one,) = found(WEIGHT, low, PINION, GEAR, TYRE)
    assert {*one.rules} == {"2.2", "2.3", "3.1", "4"}
    assert found(WEIGHT, replace(low, upper=17_000_000), PINION, GEAR, TYRE) == ()


def test_ratio_that_no_whole_teeth_have() -> None:
    narrow = rule("2", "gear_ratio", lower=3.02, upper=3.05)
    (one,) = found(WEIGHT, narrow, PINION)
    assert "whole counts" in contradiction_words(one)
    # By brute force: 3.02 to 3.05 with 9 to 11 teeth would be 27.2 to 33.55, and
    # 33 / 11 is 3.00, 28 / 9 3.11, 31 / 10 3.10.
    assert not any(
        3.02 <= gear / pinion <= 3.05
        for gear in range(18, 61)
        for pinion in range(9, 12)
    )
    assert found(WEIGHT, rule("2", "gear_ratio", lower=2.99, upper=3.05), PINION) == ()


@pytest.mark.parametrize(
    ("lower", "clashes"), [(0.95, True), (0.91, True), (0.9, False), (0.5, False)]
)
def test_axle_tyre_and_clearance(lower: float, *, clashes: bool) -> None:
    # A level car: 19 / 2 - 8.6 = 0.90 mm is the most under the rear of the chassis.
    for key in ("clearance_rear", "ride_height_rear"):
        said = found(WEIGHT, TYRE, AXLE, rule("4", key, lower=lower))
        assert [one.fault for one in said] == [Fault.NO_CAR_MEETS_ALL] * clashes
        assert all(
            "level" in contradiction_words(one) and not one.blocks for one in said
        )
    gear = rule("5", "gear_diameter", lower=17.5)
    over = rule("6", "clearance_gear", lower=lower)
    # 19 / 2 - 17.5 / 2 = 0.75 mm is the most under the gear.
    assert bool(found(WEIGHT, TYRE, gear, over)) is (lower > 0.75)


@given(
    st.tuples(st.integers(6, 12), st.integers(0, 4)),
    st.tuples(st.integers(18, 40), st.integers(0, 8)),
    st.tuples(st.integers(150, 600), st.integers(0, 60)),
)
def test_ratios_are_found_as_by_trying_every_pair_of_gears(
    pinion: tuple[int, int], gear: tuple[int, int], ratio: tuple[int, int]
) -> None:
    low, high = ratio[0] / 100, sum(ratio) / 100
    said = found(
        WEIGHT,
        rule("2", "teeth_pinion", lower=pinion[0], upper=sum(pinion)),
        rule("3", "teeth_gear", lower=gear[0], upper=sum(gear)),
        rule("4", "gear_ratio", lower=low, upper=high),
    )
    meets = any(
        low - 1e-6 <= one / other <= high + 1e-6
        for one in range(gear[0], sum(gear) + 1)
        for other in range(pinion[0], sum(pinion) + 1)
    )
    assert any(one.fault is Fault.NO_CAR_MEETS_ALL for one in said) is not meets
