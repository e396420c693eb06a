"""People of the club: joining and roles."""

import datetime as dt
from collections.abc import Iterable

from django.db import transaction

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import Person, RoleGrant


@transaction.atomic
def found_club(
    *, sign_in_name: str, name: str, password: str | None, act_at: dt.datetime
) -> Person:
    """
    Add the first person, who may do everything an admin may.

    Writes a Person and a RoleGrant; audits ``club.founded``.  Raises
    RefusedError when the club has people already.
    """
    if Person.objects.exists():
        raise RefusedError(
            code="club_exists", sentence="The club has people already; ask an admin."
        )
    person = Person(sign_in_name=sign_in_name, name=name, joined_at=act_at)
    person.set_password(password)
    person.save()
    RoleGrant.objects.create(person=person, role=Role.ADMIN, granted_at=act_at)
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
    RefusedError when the sign-in name is taken.
    """
    if Person.objects.filter(sign_in_name__iexact=sign_in_name).exists():
        raise RefusedError(
            code="name_taken",
            sentence=f"“{sign_in_name}” is taken; choose another sign-in name.",
            field="sign_in_name",
        )
    person = Person(sign_in_name=sign_in_name, name=name, joined_at=act.at)
    person.set_password(password)
    person.save()
    held = sorted(set(roles))
    RoleGrant.objects.bulk_create(
        RoleGrant(person=person, role=role, granted_by=act.by, granted_at=act.at)
        for role in held
    )
    record_event("person.added", subject=f"person {person.pk}", act=act, roles=held)
    return person
