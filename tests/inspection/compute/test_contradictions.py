"""What cannot be meant in a rulebook; meeting cars are looked for by brute force."""

from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspection.compute.conformity import DecisionRule
from inspection.compute.contradictions import (
    Contradiction,
    Fault,
    Surroundings,
    contradictions,
)
from inspection.compute.quantity import FrontCarrier
from inspection.compute.requirements import Answer, Force, Stage
from inspection.compute.rulebook import RulebookText, RuleText

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
    assert words in one.sentence


def test_yes_and_no_are_named() -> None:
    (one,) = found(
        rule("1", "motor_sealed", required=Answer.YES),
        rule("2", "motor_sealed", required=Answer.NO),
    )
    assert one.fault is Fault.NO_CAR_MEETS_BOTH
    assert "yes and no" in one.sentence


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
    assert "after the race" in one.sentence


def test_limit_outside_the_plausible_range_is_named_with_the_range() -> None:
    (one,) = found(rule("1", "clearance_rear", lower=8))
    assert one.fault is Fault.NOT_PLAUSIBLE
    assert "8.00 mm is outside" in one.sentence
    assert "0.20 mm to 5.00 mm" in one.sentence


def test_narrow_limits_are_named_where_nothing_can_pass() -> None:
    """At 95 % two limits need 3.92 u between them (1.96 either side, C1-04)."""
    narrow = rule("1", "weight_car", lower=80, upper=80.39)
    wide = rule("1", "weight_car", lower=80, upper=80.4)
    around = replace(AROUND, u={"weight_car": 0.1})
    (one,) = found(narrow, around=around)
    assert one.fault is Fault.NO_VALUE_PASSES
    assert "u about 0.1 g" in one.sentence
    assert found(wide, around=around) == ()


def test_class_without_rule_is_named() -> None:
    (one,) = found(replace(WEIGHT, classes=("Saloon",)))
    assert (one.fault, one.sentence) == (
        Fault.CLASS_WITHOUT_RULE,
        "No rule speaks of Open.",
    )


def test_class_of_another_rulebook_is_named() -> None:
    (one,) = found(WEIGHT, rule("2", "weight_car", upper=99, classes=("Lorry",)))
    assert one.fault is Fault.CLASS_ELSEWHERE
    assert "Lorry" in one.sentence


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
