"""Erasing a person: the name goes, what they did stays under a number."""

import datetime as dt
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.actions.audit import Act, record_event, record_outside_event
from inventory.actions.people.roles import keep_an_admin
from inventory.actions.people.second_factor import forget_second_factor
from inventory.actions.refusals import RefusedError
from inventory.models import (
    ApiToken,
    BatchDraft,
    FamilyTie,
    HandedLink,
    KeptAnswer,
    OpenSession,
    Part,
    Person,
    RoleGrant,
)
from inventory.models.people import new_salt

ERASED_NAME: Final = "erased person"


@transaction.atomic
def erase_person(person: Person, *, act: Act) -> None:
    """
    Overwrite a person's name and what else is theirs alone, for good.

    Writes the Person, deletes their roles, family, sessions, tokens, second factor,
    links and drafts; audits ``person.erased``.  Raises RefusedError for the last admin,
    for who has parts of the club, and for who is erased already.
    """
    _erase(person, at=act.at)
    record_event("person.erased", subject=f"person {person.pk}", act=act)


@transaction.atomic
def erase_after_time(person: Person, *, at: dt.datetime, months: int) -> None:
    """
    Erase a person of whom the club has heard nothing for as long as it keeps names.

    Writes as ``erase_person``; audits ``person.erased`` without an actor.  Raises
    RefusedError as it does.
    """
    _erase(person, at=at)
    record_outside_event(
        "person.erased", subject=f"person {person.pk}", at=at, months=months
    )


def _erase(person: Person, *, at: dt.datetime) -> None:
    keep_an_admin(person)
    held = Part.objects.filter(holder=person).count()
    if held:
        raise RefusedError(
            code="holds_parts",
            sentence=ngettext(
                "%(person)s has %(held)s part of the club; take it back first.",
                "%(person)s has %(held)s parts of the club; take them back first.",
                held,
            )
            % {"person": person, "held": held},
        )
    # The salt too: with it the hash in a seal would tell whether a name was theirs.
    written = Person.objects.filter(pk=person.pk, erased_at__isnull=True).update(
        name=ERASED_NAME,
        name_salt=new_salt(),
        sign_in_name=f"erased-{person.pk}",
        password="!",  # noqa: S106  Django's sign for none that works
        is_active=False,
        last_login=None,
        erased_at=at,
    )
    if not written:
        raise RefusedError(
            code="is_erased", sentence=_("This person is erased already.")
        )
    RoleGrant.objects.filter(person=person).delete()
    FamilyTie.objects.of(person.pk).delete()
    OpenSession.objects.filter(person=person).delete()
    ApiToken.objects.filter(person=person).delete()
    KeptAnswer.objects.filter(person=person).delete()
    HandedLink.objects.filter(person=person).delete()
    BatchDraft.objects.filter(by=person).delete()
    forget_second_factor(person)
