"""Links handed to a person: an invitation to join, or a way to a new password."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event, record_outside_event
from inventory.actions.people.codes import code_hash, new_code
from inventory.actions.people.joining import add_to_club
from inventory.actions.refusals import RefusedError
from inventory.compute.handed_links import GOOD_FOR_S, LinkKind
from inventory.compute.roles import Role
from inventory.loaders.clocks import club_zone
from inventory.models import (
    Club,
    HandedLink,
    InvitedRole,
    OpenSession,
    Person,
    RoleGrant,
)


@dataclass(frozen=True, kw_only=True)
class HandedCode:
    """A link, and its code, which is known this once."""

    link: HandedLink
    code: str


@dataclass(frozen=True, kw_only=True)
class Newcomer:
    """What whoever was invited says of themselves."""

    sign_in_name: str
    name: str
    password: str


@transaction.atomic
def invite(name: str, roles: Iterable[Role], *, act: Act) -> HandedCode:
    """
    Invite somebody by name, with the roles that they will have.

    Writes a HandedLink and an InvitedRole a role; audits ``person.invited``.
    """
    handed = _make(LinkKind.INVITATION, at=act.at, by=act.by, name=name.strip())
    brought = sorted(set(roles))
    InvitedRole.objects.bulk_create(
        InvitedRole(link=handed.link, role=role) for role in brought
    )
    record_event("person.invited", subject=handed.link, act=act, roles=brought)
    return handed


@transaction.atomic
def make_password_link(person: Person, *, act: Act) -> HandedCode:
    """
    Make a link at which a person chooses a new password; the one before is void.

    Writes a HandedLink; audits ``password_link.made``.  Raises RefusedError for
    somebody who is switched off.
    """
    handed = _password_link(person, at=act.at, by=act.by)
    record_event("password_link.made", subject=f"person {person.pk}", act=act)
    return handed


@transaction.atomic
def make_password_link_by_command(person: Person, *, at: dt.datetime) -> HandedCode:
    """
    Make the same at the machine itself, for an admin whom nobody else can help.

    Writes a HandedLink; audits ``password_link.made`` without an actor.
    """
    handed = _password_link(person, at=at, by=None)
    record_outside_event("password_link.made", subject=f"person {person.pk}", at=at)
    return handed


@transaction.atomic
def withdraw_link(link: HandedLink, *, act: Act) -> None:
    """
    Let a link that was handed over work no more.

    Writes the HandedLink; audits ``link.withdrawn``.  Raises RefusedError where it
    was used.
    """
    fresh = HandedLink.objects.filter(
        pk=link.pk, used_at__isnull=True, withdrawn_at__isnull=True
    )
    if not fresh.update(withdrawn_at=act.at):
        raise RefusedError(
            code="not_open", sentence=_("This link was used, or withdrawn before.")
        )
    record_event("link.withdrawn", subject=link, act=act)


def open_link(code: str, *, at: dt.datetime) -> HandedLink:
    """
    Find the link of a code, if it may still be used.

    Writes nothing.  Raises RefusedError, with the way on, where it is of no use.
    """
    link = HandedLink.objects.filter(code_sha256=code_hash(code)).first()
    if link is None:
        club = Club.objects.values_list("name", flat=True).first()
        raise RefusedError(
            code="not_ours",
            sentence=_(
                "No link of %(what)s has this code. Perhaps a sign of it is missing, "
                "or it is another club’s: look at the address it came with, and ask "
                "whoever gave it to you."
            )
            % {"what": club or _("this club")},
        )
    if link.used_at is not None:
        when = date_format(link.used_at.astimezone(club_zone()), "j M Y H:i")
        raise RefusedError(
            code="used",
            sentence=_(
                "This link was used once already, %(when)s with %(used_with)s. If that "
                "was you, sign in. If not, tell an admin at once: they can switch that "
                "sign-in off and give you a new link."
            )
            % {"when": when, "used_with": link.used_with},
        )
    if link.withdrawn_at is not None:
        raise RefusedError(
            code="withdrawn",
            sentence=_(
                "This link was withdrawn, or a newer one took its place. Use the "
                "newest one, or ask an admin for another."
            ),
        )
    if at > link.good_until:
        is_invitation = link.kind == LinkKind.INVITATION
        span = _("7 days") if is_invitation else _("10 minutes")
        raise RefusedError(
            code="late",
            sentence=_(
                "This link was good for %(span)s, which are over. Ask an admin for a "
                "new one: it is made in a moment."
            )
            % {"span": span},
        )
    return link


@transaction.atomic
def join_by_link(
    code: str, newcomer: Newcomer, *, device: str, at: dt.datetime
) -> Person:
    """
    Let the person in who was invited; the link works no more.

    Writes a Person, their RoleGrants (by whoever invited) and the HandedLink; audits
    ``person.joined``.  Raises RefusedError where the link is of no use, or the
    sign-in name cannot be had.
    """
    link = _taken(code, LinkKind.INVITATION, device=device, at=at)
    person = add_to_club(
        sign_in_name=newcomer.sign_in_name,
        name=newcomer.name,
        password=newcomer.password,
        at=at,
    )
    RoleGrant.objects.bulk_create(
        RoleGrant(
            person=person, role=brought.role, granted_by=link.made_by, granted_at=at
        )
        for brought in link.roles.all()
    )
    link.person, link.name = person, ""
    link.save(update_fields=["person", "name"])
    record_event(
        "person.joined",
        subject=f"person {person.pk}",
        act=Act(by=person, at=at),
        link=link.pk,
        device=device,
    )
    return person


@transaction.atomic
def set_password_by_link(
    code: str, password: str, *, device: str, at: dt.datetime
) -> Person:
    """
    Give the person of a link the password they chose, and sign every device out.

    Writes the Person and the HandedLink, deletes sessions; audits
    ``person.password_changed``.  Raises RefusedError where the link is of no use.
    """
    link = _taken(code, LinkKind.PASSWORD, device=device, at=at)
    person = link.person
    assert person is not None  # noqa: S101  a constraint of the table
    Person.objects.filter(pk=person.pk).update(password=make_password(password))
    OpenSession.objects.filter(person=person).delete()
    record_event(
        "person.password_changed",
        subject=f"person {person.pk}",
        act=Act(by=person, at=at),
        link=link.pk,
        device=device,
    )
    return person


def _password_link(person: Person, *, at: dt.datetime, by: Person | None) -> HandedCode:
    if not person.is_active:
        raise RefusedError(
            code="switched_off",
            sentence=_("%(person)s is switched off; switch them on first.")
            % {"person": person},
        )
    HandedLink.objects.filter(
        person=person,
        kind=LinkKind.PASSWORD,
        used_at__isnull=True,
        withdrawn_at__isnull=True,
    ).update(withdrawn_at=at)
    return _make(LinkKind.PASSWORD, at=at, by=by, person=person)


def _make(
    kind: LinkKind,
    *,
    at: dt.datetime,
    by: Person | None,
    name: str = "",
    person: Person | None = None,
) -> HandedCode:
    code = new_code()
    link = HandedLink.objects.create(
        kind=kind,
        code_sha256=code_hash(code),
        made_by=by,
        made_at=at,
        good_until=at + dt.timedelta(seconds=GOOD_FOR_S[kind]),
        name=name,
        person=person,
    )
    return HandedCode(link=link, code=code)


def _taken(code: str, kind: LinkKind, *, device: str, at: dt.datetime) -> HandedLink:
    # Two devices that send the form at once wait here for each other.
    list(HandedLink.objects.select_for_update().filter(code_sha256=code_hash(code)))
    link = open_link(code, at=at)
    if link.kind != kind:
        raise RefusedError(
            code="other_kind",
            sentence=_(
                "This link is for something else; open it again from the start."
            ),
        )
    link.used_at, link.used_with = at, device
    link.save(update_fields=["used_at", "used_with"])
    return link
