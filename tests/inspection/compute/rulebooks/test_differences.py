"""Two editions side by side: nothing is missed, nothing is made up."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.rulebooks.differences import (
    Change,
    Tends,
    difference,
    matching,
)
from inspection.compute.rulebooks.requirements import Answer, Evidence, Force, Stage
from inspection.compute.rulebooks.text import RulebookText, RuleText
from inspection.files.rulebooks import write_rulebook
from inspection.words.editions import change_words, classes_words, condition_words

WEIGHT = RuleText(
    number="1", sentence="Heavy.", quantity="weight_car", lower=80_000_000
)
TYRE = RuleText(
    number="2", sentence="Round.", quantity="tyre_diameter_rear", lower=18_000_000
)
SEAL = RuleText(
    number="3", sentence="Sealed.", quantity="motor_sealed", required=Answer.YES
)


def book(*rules: RuleText, **said: Any) -> RulebookText:
    facts: dict[str, Any] = {
        "rulebook": "Hall rules",
        "edition": 1,
        "decision_rule": DecisionRule.SIMPLE_ACCEPTANCE,
        "confidence": Decimal("0.95"),
        "note": "",
    }
    return RulebookText(**(facts | said), rules=rules)


def sentences(before: RuleText, after: RuleText) -> list[str]:
    (change,) = difference(book(before), book(after)).rules
    return [change_words(part) for part in change.parts]


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"lower": 80_500_000}, "Lower limit: 80.0 g → 80.5 g (stricter)"),
        ({"lower": 79_999_999}, "Lower limit: 80.0 g → 79.999999 g (looser)"),
        ({"upper": 90_000_000}, "Upper limit: none → 90.0 g (stricter)"),
        (
            {"lower_after": 79_000_000},
            "Lower limit after the race: none → 79.0 g (looser)",
        ),
        (
            {"lower_after": 80_000_000},
            "Lower limit after the race: none → 80.0 g",
        ),
        (
            {"upper_after": 90_000_000},
            "Upper limit after the race: none → 90.0 g (stricter)",
        ),
        ({"sentence": "Heavier."}, "Sentence: Heavy. → Heavier."),
        ({"force": Force.ADVISORY}, "Force: mandatory → advisory (looser)"),
        (
            {"stage": Stage.BEFORE},
            "Asked: before and after the race → before the race",
        ),
        ({"evidence": Evidence.TAKEN_ONLY}, "Evidence: either → taken only"),
        ({"classes": ("B", "A")}, "Classes: all classes → A, B"),
        (
            {"condition_key": "layout", "condition_word": "in-line"},
            "Only for: none → motor layout in-line",
        ),
        ({"number": "7"}, "Number: 1 → 7"),
    ],
)
def test_change_of_a_rule_is_said(said: dict[str, Any], sentence: str) -> None:
    found = sentences(WEIGHT, replace(WEIGHT, **said))
    assert [one.casefold() for one in found] == [sentence.casefold()]


def test_limit_taken_away_is_looser() -> None:
    two_sided = replace(WEIGHT, upper=90_000_000)
    assert sentences(two_sided, WEIGHT) == ["Upper limit: 90.0 g → none (looser)"]


def test_another_quantity_is_neither_stricter_nor_looser() -> None:
    (change,) = difference(
        book(WEIGHT), book(replace(WEIGHT, quantity="weight_body", lower=20_000_000))
    ).rules
    assert [part.what for part in change.parts] == ["Quantity", "Lower limit"]
    assert {part.tends for part in change.parts} == {Tends.NEITHER}


def test_answer_required_otherwise_is_said() -> None:
    other = replace(SEAL, required=Answer.NO)
    assert sentences(SEAL, other) == ["Required: yes → no"]


def test_added_and_removed_rules_stand_in_their_places() -> None:
    added = replace(TYRE, number="2a", quantity="width_rear")
    found = difference(book(WEIGHT, TYRE, SEAL), book(WEIGHT, added, SEAL))
    assert [(one.change, (one.after or one.before).number) for one in found.rules] == [  # type: ignore[union-attr]
        (Change.SAME, "1"),
        (Change.REMOVED, "2"),
        (Change.ADDED, "2a"),
        (Change.SAME, "3"),
    ]
    assert len(found.changes) == 2


def test_rule_under_another_number_is_found_by_what_it_limits() -> None:
    assert matching((WEIGHT, TYRE), (replace(TYRE, number="9"), WEIGHT)) == (1, 0)


def test_rule_that_two_could_have_been_is_new() -> None:
    twin = replace(WEIGHT, number="1b")
    assert matching((WEIGHT, twin), (replace(WEIGHT, number="9"),)) == (None,)


def test_another_order_alone_is_said() -> None:
    found = difference(book(WEIGHT, TYRE), book(TYRE, WEIGHT))
    assert found.is_reordered
    assert not found.changes
    assert not found.is_none


def test_change_of_the_edition_is_said() -> None:
    found = difference(
        book(WEIGHT),
        book(
            WEIGHT,
            rulebook="County rules",
            decision_rule=DecisionRule.GUARDED_REJECTION,
            confidence=Decimal("0.9000"),
            note="New.",
        ),
    )
    assert [change_words(part) for part in found.edition] == [
        "Rulebook: Hall rules → County rules",
        "Decision rule: simple acceptance → guarded rejection (looser)",
        "Confidence: 95 % → 90 %",
        "Note: none → New.",
    ]


def test_classes_and_condition_have_words() -> None:
    assert classes_words(WEIGHT.classes) == "all classes"
    assert condition_words(WEIGHT) == ""


RULES = st.lists(
    st.builds(
        RuleText,
        number=st.sampled_from(["1", "2", "3"]),
        sentence=st.sampled_from(["Heavy.", "Light."]),
        quantity=st.sampled_from(["weight_car", "weight_body"]),
        lower=st.sampled_from([80_000_000, 80_000_001]),
        upper=st.sampled_from([None, 90_000_000]),
        lower_after=st.sampled_from([None, 79_000_000, 80_000_000]),
        force=st.sampled_from(Force),
        stage=st.sampled_from(Stage),
        evidence=st.sampled_from(Evidence),
        classes=st.sampled_from([(), ("A",), ("A", "B")]),
        condition_word=st.just(""),
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda rule: rule.number,
).map(tuple)


@given(RULES, RULES, st.sampled_from(["", "New."]))
def test_nothing_differs_just_where_the_files_are_the_same(
    before: tuple[RuleText, ...], after: tuple[RuleText, ...], note: str
) -> None:
    one, other = book(*before), book(*after, note=note)
    same = write_rulebook(one) == write_rulebook(other)
    assert difference(one, other).is_none is same
    assert difference(one, one).is_none


@given(RULES, RULES)
def test_every_rule_stands_once_on_its_side(
    before: tuple[RuleText, ...], after: tuple[RuleText, ...]
) -> None:
    rules = difference(book(*before), book(*after)).rules
    assert [one.after for one in rules if one.after] == list(after)
    kept = sorted(one.before.number for one in rules if one.before)
    assert kept == sorted(rule.number for rule in before)


@pytest.mark.parametrize(
    ("before", "after", "sentence"),
    [
        (
            DecisionRule.SIMPLE_ACCEPTANCE,
            DecisionRule.GUARDED_ACCEPTANCE,
            "Decision rule: simple acceptance → guarded acceptance (stricter)",
        ),
        (
            DecisionRule.SIMPLE_ACCEPTANCE,
            DecisionRule.GUARDED_REJECTION,
            "Decision rule: simple acceptance → guarded rejection (looser)",
        ),
        (
            DecisionRule.GUARDED_REJECTION,
            DecisionRule.GUARDED_ACCEPTANCE,
            "Decision rule: guarded rejection → guarded acceptance (stricter)",
        ),
    ],
)
def test_decision_rule_that_admits_less_is_stricter(
    before: DecisionRule, after: DecisionRule, sentence: str
) -> None:
    found = difference(
        book(WEIGHT, decision_rule=before), book(WEIGHT, decision_rule=after)
    )
    assert [change_words(part) for part in found.edition] == [sentence]


@pytest.mark.parametrize(
    ("rule", "way"),
    [
        (DecisionRule.GUARDED_ACCEPTANCE, " (stricter)"),
        (DecisionRule.GUARDED_REJECTION, " (looser)"),
        (DecisionRule.SIMPLE_ACCEPTANCE, ""),
    ],
)
def test_wider_guard_band_is_stricter_where_it_is_inside(
    rule: DecisionRule, way: str
) -> None:
    """A wider band refuses more inside a limit, fewer outside: ILAC-G8:09/2019, 4.2."""
    narrow = book(WEIGHT, decision_rule=rule)
    wide = book(WEIGHT, decision_rule=rule, confidence=Decimal("0.99"))
    (part,) = difference(narrow, wide).edition
    assert change_words(part) == f"Confidence: 95 % → 99 %{way}"
    (back,) = difference(wide, narrow).edition
    opposite = {" (stricter)": " (looser)", " (looser)": " (stricter)", "": ""}[way]
    assert change_words(back) == f"Confidence: 99 % → 95 %{opposite}"


def test_confidence_under_another_decision_rule_goes_neither_way() -> None:
    before = book(WEIGHT, decision_rule=DecisionRule.GUARDED_ACCEPTANCE)
    after = book(
        WEIGHT,
        decision_rule=DecisionRule.GUARDED_REJECTION,
        confidence=Decimal("0.99"),
    )
    said = [change_words(part) for part in difference(before, after).edition]
    assert said[1] == "Confidence: 95 % → 99 %"


def test_rule_that_binds_is_stricter_than_advice() -> None:
    advice = replace(WEIGHT, force=Force.ADVISORY)
    assert sentences(advice, WEIGHT) == ["Force: advisory → mandatory (stricter)"]
