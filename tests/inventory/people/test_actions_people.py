"""People and the club: the first person, those who join, the club's name."""

import pytest

from inventory.actions.club import name_club
from inventory.actions.people.joining import add_person, found_club
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability, Role
from inventory.models import AuditRow, Club, Person
from tests import builders

pytestmark = pytest.mark.django_db


def test_club_is_founded_once() -> None:
    founder = builders.make_admin()
    assert founder.roles == {Role.ADMIN}
    with pytest.raises(RefusedError) as refusal:
        found_club(
            sign_in_name="other", name="Other", password=None, act_at=builders.NOW
        )
    assert refusal.value.code == "club_exists"
    assert Person.objects.count() == 1


def test_person_joins_with_roles_and_an_audit_row() -> None:
    person = builders.make_person(Role.MEMBER, Role.SCRUTINEER)
    assert person.roles == {Role.MEMBER, Role.SCRUTINEER}
    assert person.may(Ability.INSPECT_CARS)
    assert not person.may(Ability.MANAGE_PEOPLE)
    row = AuditRow.objects.get(event="person.added")
    assert row.detail["roles"] == ["member", "scrutineer"]
    assert person.name not in str(row.detail)


def test_sign_in_name_that_is_taken_is_refused_whatever_its_case() -> None:
    person = builders.make_person()
    with pytest.raises(RefusedError) as refusal:
        add_person(
            sign_in_name=person.sign_in_name.upper(),
            name="Another",
            password=None,
            roles=[Role.MEMBER],
            act=builders.act(),
        )
    assert refusal.value.field == "sign_in_name"


def test_club_has_one_name() -> None:
    for name in ("First Hall", "Second Hall"):
        name_club(name=name, place="", act=builders.act())
    assert Club.objects.get().name == "Second Hall"
    with pytest.raises(RefusedError) as refusal:
        name_club(name="  ", place="", act=builders.act())
    assert refusal.value.field == "name"
