"""Giving and taking roles, and switching a person off; an admin always remains."""

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.people.tokens import end_tokens_of
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import OpenSession, Person, RoleGrant
from inventory.words.enumerations import word_of


@transaction.atomic
def give_role(person: Person, role: Role, *, act: Act) -> None:
    """
    Give a role; who held none but a member's signs in anew, for a shorter time.

    Writes a RoleGrant; audits ``role.given``.  Raises RefusedError for a role that
    is held, and for somebody who is switched off or erased.
    """
    if not person.is_active:
        raise RefusedError(
            code="switched_off",
            sentence=_("%(person)s is switched off; switch them on first.")
            % {"person": person},
            field="role",
        )
    grant, is_new = RoleGrant.objects.get_or_create(
        person=person,
        role=role,
        defaults={"granted_by": act.by, "granted_at": act.at},
    )
    if not is_new:
        raise RefusedError(
            code="role_held",
            sentence=_("%(person)s is %(role)s already.")
            % {"person": person, "role": word_of(role)},
            field="role",
        )
    held = set(
        RoleGrant.objects.filter(person=person)
        .exclude(pk=grant.pk)
        .values_list("role", flat=True)
    )
    if held <= {Role.MEMBER} and role is not Role.MEMBER:
        OpenSession.objects.filter(person=person).delete()
    record_event("role.given", subject=f"person {person.pk}", act=act, role=role)


@transaction.atomic
def take_role(person: Person, role: Role, *, act: Act) -> None:
    """
    Take a role away; what it let them do ends with the next page.

    Deletes a RoleGrant; audits ``role.taken`` with who had given it.  Raises
    RefusedError for the last admin, and for a role that is not held.
    """
    if role is Role.ADMIN:
        keep_an_admin(person)
    grant = RoleGrant.objects.filter(person=person, role=role).first()
    if grant is None:
        raise RefusedError(
            code="role_not_held",
            sentence=_("%(person)s is not %(role)s.")
            % {"person": person, "role": word_of(role)},
            field="role",
        )
    grant.delete()
    record_event(
        "role.taken",
        subject=f"person {person.pk}",
        act=act,
        role=role,
        given_by=grant.granted_by_id,
        given_at=grant.granted_at.isoformat(),
    )


@transaction.atomic
def switch_off(person: Person, *, act: Act) -> None:
    """
    Let a person in no more; their sessions end with the next page they ask for.

    Writes the Person, ends their tokens, deletes their sessions; audits
    ``person.switched_off``.  Raises RefusedError for the last admin, and for who is
    off already.
    """
    keep_an_admin(person)
    if not Person.objects.filter(pk=person.pk, is_active=True).update(is_active=False):
        raise RefusedError(
            code="is_off",
            sentence=_("%(person)s is switched off already.") % {"person": person},
        )
    OpenSession.objects.filter(person=person).delete()
    end_tokens_of(person, at=act.at)
    record_event("person.switched_off", subject=f"person {person.pk}", act=act)


@transaction.atomic
def switch_on(person: Person, *, act: Act) -> None:
    """
    Let a person in again, with the roles they had.

    Writes the Person; audits ``person.switched_on``.  Raises RefusedError for who is
    on, or erased.
    """
    off = Person.objects.filter(pk=person.pk, is_active=False, erased_at__isnull=True)
    if not off.update(is_active=True):
        raise RefusedError(
            code="not_off",
            sentence=_("%(person)s is not switched off.") % {"person": person},
        )
    record_event("person.switched_on", subject=f"person {person.pk}", act=act)


def keep_an_admin(person: Person) -> None:
    """
    Make sure that another admin remains who can sign in; part of an action.

    Raises RefusedError where the person is the last one.
    """
    # Two admins who take each other's role at once wait here.
    admins = list(
        RoleGrant.objects.select_for_update(of=["self"])
        .filter(role=Role.ADMIN, person__is_active=True)
        .values_list("person_id", flat=True)
    )
    if admins == [person.pk]:
        raise RefusedError(
            code="last_admin",
            sentence=_(
                "%(person)s is the last admin: make somebody else admin first, or "
                "nobody could let people in any more."
            )
            % {"person": person},
            field="role",
        )
