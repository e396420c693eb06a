"""People of the club: the first one, and those whom an admin adds."""

import datetime as dt
from collections.abc import Iterable

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.compute.sign_in_names import as_kept, is_plain
from inventory.models import Person, RoleGrant


@transaction.atomic
def found_club(
    *,
    sign_in_name: str,
    name: str,
    password: str | None,
    act_at: dt.datetime,
    roles: Iterable[Role] = (),
) -> Person:
    """
    Add the first person, who is the admin and whatever else they are.

    Writes a Person and a RoleGrant a role; audits ``club.founded``.  Raises
    RefusedError when the club has people already.
    """
    if Person.objects.exists():
        raise RefusedError(
            code="club_exists", sentence=_("The club has people already; ask an admin.")
        )
    person = add_to_club(
        sign_in_name=sign_in_name, name=name, password=password, at=act_at
    )
    RoleGrant.objects.bulk_create(
        RoleGrant(person=person, role=role, granted_at=act_at)
        for role in sorted({Role.ADMIN, *roles})
    )
    record_event(
        "club.founded", subject=f"person {person.pk}", act=Act(by=person, at=act_at)
    )
    return person


@transaction.atomic
def add_person(
    *,
    sign_in_name: str,
    name: str,
    password: str | None,
    roles: Iterable[Role],
    act: Act,
) -> Person:
    """
    Add a person with their roles.

    Writes a Person and a RoleGrant a role; audits ``person.added``.  Raises
    RefusedError when the sign-in name is taken, or looks like another's.
    """
    person = add_to_club(
        sign_in_name=sign_in_name, name=name, password=password, at=act.at
    )
    held = sorted(set(roles))
    RoleGrant.objects.bulk_create(
        RoleGrant(person=person, role=role, granted_by=act.by, granted_at=act.at)
        for role in held
    )
    record_event("person.added", subject=f"person {person.pk}", act=act, roles=held)
    return person


def add_to_club(
    *, sign_in_name: str, name: str, password: str | None, at: dt.datetime
) -> Person:
    """
    Write a person under a sign-in name that nobody's is mistaken for.

    Part of an action.  Raises RefusedError when the name has other signs than plain
    ones, is taken, or looks like another's.
    """
    kept = as_kept(sign_in_name)
    if not is_plain(kept):
        raise RefusedError(
            code="name_not_plain",
            sentence=_(
                "“%(sign_in_name)s”: a sign-in name of plain letters was expected, "
                "such as ada or ada.wren: a to z first, then also digits, dots and "
                "hyphens."
            )
            % {"sign_in_name": sign_in_name},
            field="sign_in_name",
        )
    person = Person(sign_in_name=kept, name=name.strip(), joined_at=at)
    person.set_password(password)
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError as error:
        raise _name_refused(kept) from error
    return person


def _name_refused(kept: str) -> RefusedError:
    if Person.objects.filter(sign_in_name__iexact=kept).exists():
        sentence = _("“%(kept)s” is taken; choose another sign-in name.") % {
            "kept": kept
        }
    else:
        sentence = _(
            "“%(kept)s” looks like a sign-in name that somebody has; choose "
            "one that nobody takes for theirs."
        ) % {"kept": kept}
    return RefusedError(code="name_taken", sentence=sentence, field="sign_in_name")
