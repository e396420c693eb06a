"""Beginning a club: the address, the admin, and every way in which it fails."""

import datetime as dt
import re
from http import HTTPStatus
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from inventory.actions.people.beginning import (
    Founder,
    begin_club,
    check_beginning,
    make_beginning,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow, Beginning, Person
from tests import builders
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db

TYPED = {
    "name": "Ada Wimple",
    "sign_in_name": "ada",
    "password": PASSWORD,
    "roles": ["chief scrutineer", "parts keeper"],
}


def code_now() -> str:
    return make_beginning(at=builders.now())


def test_address_makes_the_admin_and_lets_them_in() -> None:
    client = Client()
    address = f"/begin/{code_now()}"
    assert client.get(address).status_code == HTTPStatus.OK
    begun = client.post(address, TYPED)
    assert begun["Location"] == "/"
    person = Person.objects.get()
    assert person.roles == {Role.ADMIN, Role.CHIEF_SCRUTINEER, Role.PARTS_KEEPER}
    assert client.get("/people").status_code == HTTPStatus.OK
    events = AuditRow.objects.order_by("id").values_list("event", flat=True)
    assert list(events) == ["club.founded", "person.signed_in"]
    typed = {"username": "ada", "password": PASSWORD}
    assert Client().post("/sign-in", typed)["Location"] == "/"


def test_address_works_once() -> None:
    address = f"/begin/{code_now()}"
    Client().post(address, TYPED)
    late = Client().post(address, TYPED | {"sign_in_name": "eve"})
    assert late.status_code == HTTPStatus.NOT_FOUND
    assert "it was used" in late.content.decode()
    assert Person.objects.count() == 1
    with pytest.raises(RefusedError) as refusal:
        code_now()
    assert refusal.value.code == "club_exists"


def test_who_is_in_already_is_sent_to_the_desk() -> None:
    client = Client()
    address = f"/begin/{code_now()}"
    client.post(address, TYPED)
    assert client.get(address)["Location"] == "/"


def test_last_code_alone_is_good_however_it_is_typed() -> None:
    first, last = code_now(), code_now()
    assert first != last
    with pytest.raises(RefusedError):
        check_beginning(first, at=builders.now())
    check_beginning(last.upper().replace("-", " "), at=builders.now())
    assert Beginning.objects.get().code_sha256 not in last


def test_code_is_good_for_a_day() -> None:
    code = make_beginning(at=builders.NOW)
    day = dt.timedelta(hours=24)
    check_beginning(code, at=builders.NOW + day)
    with pytest.raises(RefusedError) as refusal:
        check_beginning(code, at=builders.NOW + day + dt.timedelta(seconds=1))
    assert refusal.value.code == "too_old"
    page = Client().get(f"/begin/{code}")
    assert page.status_code == HTTPStatus.NOT_FOUND
    assert "good for 24 hours" in page.content.decode()


def test_wrong_code_begins_nothing() -> None:
    code_now()
    with pytest.raises(RefusedError):
        begin_club(
            "abcd-efgh-jkmn-pqrs",
            Founder(sign_in_name="eve", name="Eve", password=PASSWORD),
            at=builders.now(),
        )
    assert not Person.objects.exists()


def test_what_is_wrong_stands_beside_its_field_and_the_typed_stays() -> None:
    page = Client().post(f"/begin/{code_now()}", TYPED | {"password": "short"})
    assert page.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    words = page.content.decode()
    assert "Ada Wimple" in words
    assert 'id="id_password_error"' in words
    assert not Person.objects.exists()


def test_sign_in_says_that_nobody_can_yet() -> None:
    assert "this club has not begun" in Client().get("/sign-in").content.decode()
    builders.make_admin()
    assert "this club has not begun" not in Client().get("/sign-in").content.decode()


def test_command_prints_the_address() -> None:
    out = StringIO()
    call_command("begin_club", address="https://desk.example/", stdout=out)
    found = re.search(r"https://desk\.example(/begin/[a-z0-9-]{19})\s", out.getvalue())
    assert found is not None
    assert Client().get(found[1]).status_code == HTTPStatus.OK
    builders.make_admin()
    with pytest.raises(CommandError, match="ask an admin"):
        call_command("begin_club", stdout=out)


def test_createsuperuser_names_the_command_to_use() -> None:
    with pytest.raises(CommandError, match="begin_club"):
        call_command("createsuperuser", interactive=False)
