"""Drafts: every change, and that a published edition takes none."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from inspection.actions.drafts import (
    EditionFacts,
    Rewrite,
    Way,
    change_edition,
    copy_edition,
    discard_draft,
    move_rule,
    remove_rule,
    start_draft,
    write_rule,
)
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.rulebooks.requirements import Answer
from inspection.compute.rulebooks.text import RuleText
from inspection.files.rulebooks import checksum, rule_checksum
from inspection.loaders.rulebooks.editions import rule_text, rulebook_text
from inspection.models import Edition, Rule, RuleClass
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db

FACTS = EditionFacts(
    decision_rule=DecisionRule.GUARDED_REJECTION,
    confidence=Decimal("0.9"),
    note="New.",
)
BODY = builders.rule("9", "weight_body", lower=17)


@pytest.fixture
def draft() -> Edition:
    return builders.make_edition(published=False)


def numbers(edition: Edition) -> list[str]:
    return list(edition.rules.values_list("number", flat=True))


def rewrite_of(rule: Rule) -> Rewrite:
    return Rewrite(rule_id=rule.pk, seen=rule_checksum(rule_text(rule)))


def last_event() -> str:
    return AuditRow.objects.latest("pk").event


def test_rulebook_begins_with_an_edition_without_rules() -> None:
    edition = start_draft("Hall rules", FACTS, act=builders.act())
    assert (edition.number, numbers(edition), edition.is_published) == (1, [], False)
    assert edition.confidence == Decimal("0.9")
    assert last_event() == "edition.drafted"


def test_second_edition_of_a_rulebook_has_the_next_number(draft: Edition) -> None:
    again = start_draft(draft.rulebook.name, FACTS, act=builders.act())
    assert again.number == draft.number + 1


def test_copy_says_the_same_under_the_next_number() -> None:
    draft = builders.make_edition(published=False)
    change_edition(draft.pk, FACTS, act=builders.act())
    draft.refresh_from_db()
    copy = copy_edition(draft.pk, act=builders.act())
    text, copied = rulebook_text(draft), rulebook_text(copy)
    # What a note says is new is so of one edition.
    assert (text.note, copied.note) == ("New.", "")
    assert replace(copied, edition=text.edition, note=text.note) == text
    assert copied.edition == text.edition + 1
    assert not copy.is_published


def test_draft_takes_another_decision_rule(draft: Edition) -> None:
    change_edition(draft.pk, FACTS, act=builders.act())
    draft.refresh_from_db()
    assert draft.decision_rule == DecisionRule.GUARDED_REJECTION
    assert (draft.confidence, draft.note) == (Decimal("0.9"), "New.")
    assert last_event() == "edition.changed"


@pytest.mark.parametrize("confidence", ["0.5", "1", "0.2", "1.5"])
def test_confidence_out_of_range_is_refused(draft: Edition, confidence: str) -> None:
    wrong = replace(FACTS, confidence=Decimal(confidence))
    with pytest.raises(RefusedError) as refusal:
        change_edition(draft.pk, wrong, act=builders.act())
    assert refusal.value.code == "confidence_out_of_range"
    draft.refresh_from_db()
    assert draft.confidence == Decimal("0.95")


def test_rule_is_added_behind_the_others(draft: Edition) -> None:
    written = write_rule(draft.pk, BODY, act=builders.act())
    assert numbers(draft) == ["1", "2", "3", "9"]
    assert rule_text(written) == BODY
    assert last_event() == "rule.written"


def test_first_rule_of_an_edition_is_added() -> None:
    edition = start_draft("Hall rules", FACTS, act=builders.act())
    write_rule(edition.pk, BODY, act=builders.act())
    assert numbers(edition) == ["9"]


def test_rule_is_written_anew_in_its_place(draft: Edition) -> None:
    old = draft.rules.get(number="1")
    classes = ("Open", "Saloon")
    builders.make_class("Open")
    anew = builders.rule("1a", "weight_car", lower=82, upper=90, classes=classes)
    write_rule(draft.pk, anew, rewrite=rewrite_of(old), act=builders.act())
    assert numbers(draft) == ["1a", "2", "3"]
    assert rule_text(draft.rules.get(number="1a")) == anew
    again = draft.rules.get(number="1a")
    plain = builders.rule("1a", "weight_car", lower=82)
    write_rule(draft.pk, plain, rewrite=rewrite_of(again), act=builders.act())
    assert not RuleClass.objects.exists()


def test_rule_that_somebody_else_wrote_meanwhile_is_not_overwritten(
    draft: Edition,
) -> None:
    rewrite = rewrite_of(draft.rules.get(number="1"))
    theirs = builders.rule("1", "weight_car", lower=82)
    write_rule(draft.pk, theirs, rewrite=rewrite, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        write_rule(draft.pk, BODY, rewrite=rewrite, act=builders.act())
    assert refusal.value.code == "rule_changed"
    assert rule_text(draft.rules.get(number="1")) == theirs


def test_rule_of_another_edition_is_not_written(draft: Edition) -> None:
    other = builders.make_edition(published=False)
    rewrite = rewrite_of(other.rules.get(number="1"))
    with pytest.raises(RefusedError) as refusal:
        write_rule(draft.pk, BODY, rewrite=rewrite, act=builders.act())
    assert refusal.value.code == "rule_changed"


@pytest.mark.parametrize(
    ("rule", "code", "field"),
    [
        (builders.rule("2", "weight_body", lower=17), "number_taken", "number"),
        (builders.rule("9", "weight_body"), "rulebook_file", ""),
        (
            builders.rule("9", "weight_body", lower=18, upper=17),
            "rulebook_file",
            "lower",
        ),
        (
            builders.rule("9", "weight_body", lower=17, required=Answer.YES),
            "rulebook_file",
            "required",
        ),
        (builders.rule("9", "motor_sealed", lower=1), "rulebook_file", "required"),
        (
            builders.rule("9", "weight_body", lower=17, classes=("Lorry",)),
            "class_unknown",
            "classes",
        ),
        (replace(BODY, sentence="x" * 301), "rulebook_file", "sentence"),
        (replace(BODY, sentence="a\x00b"), "rulebook_file", "sentence"),
    ],
)
def test_rule_that_none_can_be_is_refused_beside_its_field(
    draft: Edition, rule: RuleText, code: str, field: str
) -> None:
    before = checksum(rulebook_text(draft))
    events = AuditRow.objects.count()
    with pytest.raises(RefusedError) as refusal:
        write_rule(draft.pk, rule, act=builders.act())
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert refusal.value.sentence[0].isupper() or refusal.value.sentence[0] in "“0123"
    assert checksum(rulebook_text(draft)) == before
    assert AuditRow.objects.count() == events


@pytest.mark.parametrize(
    ("number", "way", "order"),
    [
        ("2", Way.UP, ["2", "1", "3"]),
        ("2", Way.DOWN, ["1", "3", "2"]),
        ("1", Way.UP, ["1", "2", "3"]),
        ("3", Way.DOWN, ["1", "2", "3"]),
    ],
)
def test_rule_changes_places_with_its_neighbour(
    draft: Edition, number: str, way: Way, order: list[str]
) -> None:
    move_rule(draft.pk, draft.rules.get(number=number).pk, way, act=builders.act())
    assert numbers(draft) == order


def test_rule_is_taken_out(draft: Edition) -> None:
    remove_rule(draft.pk, draft.rules.get(number="2").pk, act=builders.act())
    assert numbers(draft) == ["1", "3"]
    assert last_event() == "rule.removed"
    # The place left free stands in no other rule's way.
    move_rule(draft.pk, draft.rules.get(number="3").pk, Way.UP, act=builders.act())
    assert numbers(draft) == ["3", "1"]


@pytest.mark.parametrize(
    "change",
    [
        lambda pk, rule: remove_rule(pk, rule, act=builders.act()),
        lambda pk, rule: move_rule(pk, rule, Way.UP, act=builders.act()),
    ],
)
def test_rule_that_is_gone_is_said_to_be(
    draft: Edition, change: Callable[[int, int], None]
) -> None:
    gone = draft.rules.get(number="2").pk
    remove_rule(draft.pk, gone, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        change(draft.pk, gone)
    assert refusal.value.code == "rule_gone"


def test_draft_is_thrown_away_with_its_rules(draft: Edition) -> None:
    discard_draft(draft.pk, act=builders.act())
    assert not Edition.objects.exists()
    assert not Rule.objects.exists()
    assert last_event() == "edition.discarded"


@pytest.mark.parametrize(
    "change",
    [
        lambda e: change_edition(e.pk, FACTS, act=builders.act()),
        lambda e: write_rule(e.pk, BODY, act=builders.act()),
        lambda e: write_rule(
            e.pk, BODY, rewrite=rewrite_of(e.rules.get(number="1")), act=builders.act()
        ),
        lambda e: remove_rule(e.pk, e.rules.get(number="1").pk, act=builders.act()),
        lambda e: move_rule(
            e.pk, e.rules.get(number="2").pk, Way.UP, act=builders.act()
        ),
        lambda e: discard_draft(e.pk, act=builders.act()),
    ],
)
def test_published_edition_takes_no_change(
    change: Callable[[Edition], object],
) -> None:
    edition = builders.make_edition()
    events = AuditRow.objects.count()
    with pytest.raises(RefusedError) as refusal:
        change(edition)
    assert refusal.value.code == "published_already"
    assert checksum(rulebook_text(edition)) == edition.sha256
    assert AuditRow.objects.count() == events
