"""Rulebooks: drafting an edition from its text, publishing it, racing by it."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.compute.rulebooks import RulebookText, RuleText
from inspection.files.rulebooks import checksum
from inspection.loaders.rulebooks.editions import rulebook_text
from inspection.loaders.rulebooks.shelf import contradictions_of
from inspection.models import (
    Edition,
    NightClass,
    RaceClass,
    RaceNight,
    Rule,
    Rulebook,
    RuleClass,
)
from inspection.words.contradictions import contradiction_words
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@transaction.atomic
def add_race_class(name: str, *, rulebook_name: str, act: Act) -> RaceClass:
    """
    Add a class of cars under a rulebook.

    Writes the Rulebook where it is new and a RaceClass; audits ``class.added``.
    Raises RefusedError when the club has a class of that name.
    """
    if RaceClass.objects.filter(name=name).exists():
        raise RefusedError(
            code="name_taken",
            sentence=_("A class is already called “%(name)s”.") % {"name": name},
            field="name",
        )
    rulebook, _is_new = Rulebook.objects.get_or_create(name=rulebook_name)
    race_class = RaceClass.objects.create(name=name, rulebook=rulebook)
    record_event("class.added", subject=race_class, act=act, rulebook=rulebook_name)
    return race_class


@transaction.atomic
def draft_edition(text: RulebookText, *, act: Act) -> Edition:
    """
    Make a draft of what a rulebook file says.

    Writes the Rulebook where it is new, an Edition, its Rules and RuleClasses;
    audits ``edition.drafted``.  Raises RefusedError when the number is taken or
    a class is not known.
    """
    rulebook, _is_new = Rulebook.objects.get_or_create(name=text.rulebook)
    here = rulebook.editions.filter(number=text.edition).first()
    if here is not None:
        is_same = checksum(rulebook_text(here)) == checksum(text)
        raise RefusedError(
            code="edition_taken",
            sentence=(
                _("%(edition)s is here already, the same to the digit.")
                if is_same
                else _("%(edition)s is here already, and says something else.")
            )
            % {"edition": here},
            field="edition",
        )
    edition = Edition.objects.create(
        rulebook=rulebook,
        number=text.edition,
        decision_rule=text.decision_rule,
        confidence=text.confidence,
        note=text.note,
        created_at=act.at,
        created_by=act.by,
    )
    write_rules(edition, text.rules)
    record_event("edition.drafted", subject=edition, act=act)
    return edition


def write_rules(edition: Edition, rules: tuple[RuleText, ...]) -> None:
    """
    Write a draft's rules; part of a caller's transaction.

    Writes Rules and RuleClasses.  Raises RefusedError for an unknown class.
    """
    made = Rule.objects.bulk_create(
        Rule(edition=edition, position=position, **columns_of_rule(rule))
        for position, rule in enumerate(rules)
    )
    link_classes(list(zip(made, rules, strict=True)))


def columns_of_rule(rule: RuleText) -> dict[str, Any]:
    """Give what a rule's row says, besides its edition, place and classes."""
    return {
        "number": rule.number,
        "sentence": rule.sentence,
        "quantity": rule.quantity,
        "lower": rule.lower,
        "upper": rule.upper,
        "lower_after": rule.lower_after,
        "upper_after": rule.upper_after,
        "required": rule.required or "",
        "force": rule.force,
        "stage": rule.stage,
        "evidence": rule.evidence,
        "condition_key": rule.condition_key,
        "condition_word": rule.condition_word,
    }


def link_classes(rules: list[tuple[Rule, RuleText]]) -> None:
    """
    Say of which classes rules speak; part of a caller's transaction.

    Writes RuleClasses.  Raises RefusedError for an unknown class.
    """
    known = dict(RaceClass.objects.values_list("name", "pk"))
    rows = []
    for rule, rule_text in rules:
        for name in rule_text.classes:
            if name not in known:
                raise RefusedError(
                    code="class_unknown",
                    sentence=_(
                        "Rule %(rule)s speaks of the class “%(name)s”, which this club "
                        "does not have."
                    )
                    % {"rule": rule.number, "name": name},
                    field="classes",
                )
            rows.append(RuleClass(rule=rule, race_class_id=known[name]))
    RuleClass.objects.bulk_create(rows)


@transaction.atomic
def publish_edition(
    edition_id: int, *, night_ids: Iterable[int] = (), act: Act
) -> Edition:
    """
    Publish a draft; from now on nothing in it can be changed.

    Writes the Edition's date, person and SHA-256, and the NightClasses of nights
    that are to race by it at once; audits ``edition.published`` and
    ``night.edition_moved``.  Raises RefusedError when it has no rule, is published
    already, two mandatory rules exclude each other, or a night refuses.
    """
    edition = (
        Edition.objects.select_for_update(of=("self",))
        .select_related("rulebook")
        .get(pk=edition_id)
    )
    if edition.is_published:
        raise RefusedError(
            code="published_already",
            sentence=_("%(edition)s is published already.") % {"edition": edition},
        )
    text = rulebook_text(edition)
    if not text.rules:
        raise RefusedError(
            code="no_rule",
            sentence=_("%(edition)s has no rule yet.") % {"edition": edition},
        )
    for one in contradictions_of(edition, text):
        if one.blocks:
            raise RefusedError(code="contradiction", sentence=contradiction_words(one))
    edition.sha256 = checksum(text)
    edition.published_at, edition.published_by = act.at, act.by
    edition.save(update_fields=["sha256", "published_at", "published_by"])
    record_event("edition.published", subject=edition, act=act, sha256=edition.sha256)
    for night_id in night_ids:
        race_by_edition(edition.pk, night_id=night_id, act=act)
    return edition


@transaction.atomic
def race_by_edition(edition_id: int, *, night_id: int, act: Act) -> int:
    """
    Let the classes of a night race by an edition; open sheets keep theirs.

    Writes the NightClasses of the edition's rulebook and gives their number; audits
    ``night.edition_moved``.  Raises RefusedError when the edition is a draft, the
    night is closed, or none of the rulebook's classes races.
    """
    edition = Edition.objects.select_related("rulebook").get(pk=edition_id)
    night = RaceNight.objects.select_for_update().get(pk=night_id)
    if not edition.is_published:
        raise RefusedError(
            code="edition_is_draft",
            sentence=_("%(edition)s is not published yet.") % {"edition": edition},
        )
    if night.closed_at is not None:
        raise RefusedError(
            code="night_closed",
            sentence=_("%(night)s is closed.") % {"night": night},
            field="night",
        )
    moved = NightClass.objects.filter(
        night=night, race_class__rulebook=edition.rulebook_id
    ).update(edition=edition)
    if not moved:
        raise RefusedError(
            code="class_not_tonight",
            sentence=_("No class of %(rulebook)s races on %(night)s.")
            % {"rulebook": edition.rulebook, "night": night},
            field="night",
        )
    record_event("night.edition_moved", subject=night, act=act, edition=str(edition))
    return moved
