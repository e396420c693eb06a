"""Drafts: starting an edition, and writing its rules one by one."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from inspection.actions.rulebooks import columns_of_rule, draft_edition, link_classes
from inspection.compute.judging import DecisionRule
from inspection.compute.rulebooks import RulebookText, RuleText
from inspection.files.rulebooks import RulebookFileError, check_rule, rule_checksum
from inspection.loaders.rulebooks.editions import rule_text, rulebook_text
from inspection.models import Edition, Rule, Rulebook, RuleClass
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError

#: One half: no guard band at all.
LEAST_CONFIDENCE: Final = Decimal("0.5")


class Way(StrEnum):
    """Which way a rule moves in its edition."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, kw_only=True)
class EditionFacts:
    """What an edition says besides its rules."""

    decision_rule: DecisionRule
    confidence: Decimal
    note: str


@dataclass(frozen=True, kw_only=True)
class Rewrite:
    """Which rule is written anew, and the hash of what it said when it was opened."""

    rule_id: int
    seen: str


@transaction.atomic
def start_draft(rulebook_name: str, facts: EditionFacts, *, act: Act) -> Edition:
    """
    Start an edition without any rule, of a new rulebook or of one that is here.

    Writes the Rulebook where it is new and an Edition; audits ``edition.drafted``.
    Raises RefusedError when the confidence is no such thing.
    """
    _refuse_confidence(facts)
    text = RulebookText(
        rulebook=rulebook_name,
        edition=_next_number(rulebook_name),
        decision_rule=facts.decision_rule,
        confidence=facts.confidence,
        note=facts.note,
        rules=(),
    )
    return draft_edition(text, act=act)


@transaction.atomic
def copy_edition(edition_id: int, *, act: Act) -> Edition:
    """
    Start the next edition with the rules of one that is here, and no note yet.

    Writes an Edition, its Rules and RuleClasses; audits ``edition.drafted``.
    """
    text = rulebook_text(Edition.objects.select_related("rulebook").get(pk=edition_id))
    fields = vars(text) | {"edition": _next_number(text.rulebook), "note": ""}
    return draft_edition(RulebookText(**fields), act=act)


def _next_number(rulebook_name: str) -> int:
    # Two who start an edition at once wait for each other.
    list(Rulebook.objects.select_for_update().filter(name=rulebook_name))
    editions = Edition.objects.filter(rulebook__name=rulebook_name)
    return (editions.aggregate(last=Max("number"))["last"] or 0) + 1


def _refuse_confidence(facts: EditionFacts) -> None:
    if not LEAST_CONFIDENCE < facts.confidence < 1:
        raise RefusedError(
            code="confidence_out_of_range",
            sentence=_(
                "A confidence of %(confidence)s; above %(least_confidence)s and below "
                "1 is expected."
            )
            % {"confidence": facts.confidence, "least_confidence": LEAST_CONFIDENCE},
            field="confidence",
        )


@transaction.atomic
def change_edition(edition_id: int, facts: EditionFacts, *, act: Act) -> Edition:
    """
    Change what a draft says besides its rules.

    Writes the Edition; audits ``edition.changed``.  Raises RefusedError when it is
    published or the confidence is no such thing.
    """
    _refuse_confidence(facts)
    edition = lock_draft(edition_id)
    edition.decision_rule = facts.decision_rule
    edition.confidence = facts.confidence
    edition.note = facts.note
    edition.save(update_fields=["decision_rule", "confidence", "note"])
    record_event(
        "edition.changed",
        subject=edition,
        act=act,
        decision_rule=facts.decision_rule,
        confidence=str(facts.confidence),
    )
    return edition


@transaction.atomic
def discard_draft(edition_id: int, *, act: Act) -> None:
    """
    Throw a draft away.

    Deletes the Edition, its Rules and RuleClasses; audits ``edition.discarded``.
    Raises RefusedError when it is published.
    """
    edition = lock_draft(edition_id)
    name = str(edition)
    Rule.objects.filter(edition=edition).delete()
    edition.delete()
    record_event("edition.discarded", subject=name, act=act)


@transaction.atomic
def write_rule(
    edition_id: int, rule: RuleText, *, rewrite: Rewrite | None = None, act: Act
) -> Rule:
    """
    Add a rule to a draft, or write one of its rules anew.

    Writes a Rule and its RuleClasses; audits ``rule.written``.  Raises RefusedError
    when the edition is published, the number is another rule's, the rule says what
    none can, or somebody else wrote it since it was opened.
    """
    edition = lock_draft(edition_id)
    _refuse_unsound(rule)
    old = None if rewrite is None else _opened(edition, rewrite)
    same_number = Rule.objects.filter(edition=edition, number=rule.number)
    if old is not None:
        same_number = same_number.exclude(pk=old.pk)
    if same_number.exists():
        raise RefusedError(
            code="number_taken",
            sentence=_("There is a rule %(rule)s in %(edition)s already.")
            % {"rule": rule.number, "edition": edition},
            field="number",
        )
    written = _written(edition, rule, old)
    RuleClass.objects.filter(rule=written).delete()
    link_classes([(written, rule)])
    record_event("rule.written", subject=written, act=act, edition=str(edition))
    return written


def _refuse_unsound(rule: RuleText) -> None:
    try:
        check_rule(rule)
    except RulebookFileError as error:
        field = error.pointer.strip("/").partition("/")[0]
        sentence = error.sentence[:1].upper() + error.sentence[1:]
        raise RefusedError(code=error.code, sentence=sentence, field=field) from error


def _opened(edition: Edition, rewrite: Rewrite) -> Rule:
    old = Rule.objects.filter(edition=edition, pk=rewrite.rule_id).first()
    if old is None or rule_checksum(rule_text(old)) != rewrite.seen:
        raise RefusedError(
            code="rule_changed",
            sentence=_(
                "Somebody else has written or removed this rule since you opened it; "
                "look at the edition again."
            ),
        )
    return old


def _written(edition: Edition, rule: RuleText, old: Rule | None) -> Rule:
    if old is None:
        last = Rule.objects.filter(edition=edition).aggregate(last=Max("position"))
        position = 0 if last["last"] is None else last["last"] + 1
        return Rule.objects.create(
            edition=edition, position=position, **columns_of_rule(rule)
        )
    for name, value in columns_of_rule(rule).items():
        setattr(old, name, value)
    old.save()
    return old


@transaction.atomic
def remove_rule(edition_id: int, rule_id: int, *, act: Act) -> None:
    """
    Take a rule out of a draft.

    Deletes the Rule and its RuleClasses; audits ``rule.removed``.  Raises
    RefusedError when the edition is published or the rule is gone.
    """
    edition = lock_draft(edition_id)
    rule = _rule_of(edition, rule_id)
    name = str(rule)
    rule.delete()
    record_event("rule.removed", subject=name, act=act, edition=str(edition))


@transaction.atomic
def move_rule(edition_id: int, rule_id: int, way: Way, *, act: Act) -> None:
    """
    Let a rule change places with the one before or behind it.

    Writes both Rules; audits ``rule.moved``.  Raises RefusedError when the edition
    is published or the rule is gone; at the end of the list nothing happens.
    """
    edition = lock_draft(edition_id)
    rule = _rule_of(edition, rule_id)
    others = Rule.objects.filter(edition=edition)
    if way is Way.UP:
        other = others.filter(position__lt=rule.position).order_by("-position").first()
    else:
        other = others.filter(position__gt=rule.position).order_by("position").first()
    if other is None:
        return
    # No two rules may stand in one place, not even between two statements.
    last = others.aggregate(last=Max("position"))["last"]
    here, there = rule.position, other.position
    for row, position in ((rule, last + 1), (other, here), (rule, there)):
        row.position = position
        row.save(update_fields=["position"])
    record_event("rule.moved", subject=rule, act=act, edition=str(edition), way=way)


def lock_draft(edition_id: int) -> Edition:
    """Read a draft for a change, so that two changes wait for each other."""
    edition = (
        Edition.objects.select_for_update(of=("self",))
        .select_related("rulebook")
        .get(pk=edition_id)
    )
    if edition.is_published:
        raise RefusedError(
            code="published_already",
            sentence=_(
                "%(edition)s is published: nothing in it can be changed. Start a new "
                "draft from it."
            )
            % {"edition": edition},
        )
    return edition


def _rule_of(edition: Edition, rule_id: int) -> Rule:
    rule = Rule.objects.filter(edition=edition, pk=rule_id).first()
    if rule is None:
        raise RefusedError(
            code="rule_gone",
            sentence=_("That rule is not in %(edition)s any more.")
            % {"edition": edition},
        )
    return rule
