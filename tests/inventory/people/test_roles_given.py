"""Roles given and taken, people switched off, and an admin who always remains."""

from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from inventory.actions.people.roles import give_role, switch_off, switch_on, take_role
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow, OpenSession, Person, RoleGrant
from tests import builders

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person], Client]


@pytest.fixture
def admin(client_of: ClientOf) -> Client:
    return client_of(builders.make_admin())


def test_a_role_is_given_shown_with_its_giver_and_taken(admin: Client) -> None:
    person = builders.make_person(name="Ida Penn")
    page = f"/people/{person.pk}"
    given = admin.post(f"{page}/roles", {"role": "scrutineer"})
    assert given["Location"] == page
    words = admin.get(page).content.decode()
    assert words.count("given by The Founder") == 2
    assert "inspect cars" in words
    admin.post(f"{page}/roles/scrutineer/take")
    assert set(
        RoleGrant.objects.filter(person=person).values_list("role", flat=True)
    ) == {Role.MEMBER}
    given_row, taken_row = AuditRow.objects.filter(event__startswith="role.").order_by(
        "id"
    )
    assert given_row.detail == {"role": "scrutineer"}
    assert taken_row.detail["given_by"] == given_row.actor_id


def test_what_cannot_be_done_is_a_sentence_and_writes_nothing(admin: Client) -> None:
    person = builders.make_person()
    page = f"/people/{person.pk}"
    assert admin.post(f"{page}/roles", {"role": "member"}).status_code == 422
    assert admin.post(f"{page}/roles/king/take").status_code == 404
    for deed, said in (
        ("roles/admin/take", "is not admin"),
        ("on", "is not switched off"),
        ("without-second-factor", "has no second factor"),
    ):
        answer = admin.post(f"{page}/{deed}", follow=True)
        assert said in answer.content.decode(), deed
    with pytest.raises(RefusedError) as refusal:
        give_role(person, Role.MEMBER, act=builders.act())
    assert refusal.value.code == "role_held"
    assert not AuditRow.objects.filter(event__startswith="role.").exists()


def test_the_last_admin_stays_admin(admin: Client) -> None:
    founder = builders.make_admin()
    act = builders.act(founder)
    with pytest.raises(RefusedError, match="the last admin"):
        take_role(founder, Role.ADMIN, act=act)
    with pytest.raises(RefusedError, match="the last admin"):
        switch_off(founder, act=act)
    answer = admin.post(f"/people/{founder.pk}/roles/admin/take", follow=True)
    assert "make somebody else admin first" in answer.content.decode()
    # One who is switched off lets nobody in: they do not count.
    second = builders.make_person(Role.ADMIN)
    switch_off(second, act=act)
    with pytest.raises(RefusedError, match="the last admin"):
        take_role(founder, Role.ADMIN, act=act)
    switch_on(second, act=act)
    take_role(founder, Role.ADMIN, act=act)
    assert not RoleGrant.objects.filter(person=founder).exists()


def test_who_is_switched_off_is_out_at_the_next_page(
    admin: Client, client_of: ClientOf
) -> None:
    person = builders.make_person()
    theirs = client_of(person)
    assert theirs.get("/").status_code == 200
    admin.post(f"/people/{person.pk}/off")
    assert theirs.get("/")["Location"].startswith("/sign-in")
    again = admin.post(f"/people/{person.pk}/off", follow=True)
    assert "is switched off already" in again.content.decode()
    gave = admin.post(f"/people/{person.pk}/roles", {"role": "scrutineer"}, follow=True)
    assert "switch them on first" in gave.content.decode()
    link = admin.post(f"/people/{person.pk}/password-link", follow=True)
    assert "switch them on first" in link.content.decode()
    admin.post(f"/people/{person.pk}/on")
    assert theirs.get("/")["Location"].startswith("/sign-in")
    events = AuditRow.objects.filter(event__startswith="person.switched")
    assert events.count() == 2


def test_a_first_role_at_the_desk_ends_a_members_long_sign_in(
    client_of: ClientOf,
) -> None:
    member, scrutineer = builders.make_person(), builders.make_scrutineer()
    phones = [client_of(member), client_of(scrutineer)]
    for person in (member, scrutineer):
        give_role(person, Role.CHIEF_SCRUTINEER, act=builders.act())
    assert [phone.get("/").status_code for phone in phones] == [302, 200]


def test_a_session_of_a_person_has_a_mark() -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        OpenSession.objects.create(
            session_key="k" * 32, expire_date=builders.NOW, person=builders.make_admin()
        )
