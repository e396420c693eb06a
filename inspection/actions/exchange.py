"""Exchange: taking in another club's edition as a draft."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.rulebooks import add_race_class, draft_edition
from inspection.compute.rulebooks import RulebookText
from inspection.files.rulebooks import checksum
from inspection.models import Edition, RaceClass
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@transaction.atomic
def import_edition(text: RulebookText, *, adds_classes: bool, act: Act) -> Edition:
    """
    Make a draft of another club's edition.

    Writes the Rulebook where it is new, the classes that the club lacks if it may,
    an Edition, its Rules and RuleClasses; audits ``edition.drafted`` and
    ``edition.imported``.  Raises RefusedError when the club has an edition of that
    number, or lacks a class and it was not said to add them.
    """
    lacking = classes_lacking(text)
    if lacking and not adds_classes:
        raise RefusedError(
            code="class_unknown",
            sentence=_(
                "This club has no class called %(names)s. Say that it is to be added."
            )
            % {"names": ", ".join(f"“{name}”" for name in lacking)},
            field="adds_classes",
        )
    for name in lacking:
        add_race_class(name, rulebook_name=text.rulebook, act=act)
    edition = draft_edition(text, act=act)
    record_event(
        "edition.imported",
        subject=edition,
        act=act,
        sha256=checksum(text),
        classes_added=lacking,
    )
    return edition


def classes_lacking(text: RulebookText) -> list[str]:
    """
    Name the classes of which a rulebook speaks and which the club does not have.

    Writes nothing.
    """
    named = dict.fromkeys(name for rule in text.rules for name in rule.classes)
    known = set(RaceClass.objects.filter(name__in=named).values_list("name", flat=True))
    return [name for name in named if name not in known]
