"""Who came in, who did not, and what was taken out: each leaves an audit row."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inventory.models import AuditRow, Person
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
HALL = "192.0.2.1"


def events() -> list[str]:
    return list(AuditRow.objects.order_by("id").values_list("event", flat=True))


def sign_in(name: str, word: str) -> Any:
    typed = {"username": name, "password": word}
    return Client().post("/sign-in", typed, REMOTE_ADDR=HALL)


def test_signing_in_and_out_says_who_and_from_where(person: Person) -> None:
    client = Client()
    typed = {"username": "rosa", "password": PASSWORD}
    client.post("/sign-in", typed, REMOTE_ADDR=HALL)
    client.post("/sign-out")
    came, went = AuditRow.objects.order_by("id")
    assert (came.event, came.actor, came.detail) == (
        "person.signed_in",
        person,
        {"address": HALL},
    )
    assert (went.event, went.actor) == ("person.signed_out", person)


def test_failures_name_the_person_meant_and_never_what_was_typed(
    person: Person,
) -> None:
    sign_in("rosa", "a wrong word")
    sign_in("my-password-in-the-wrong-field", "x")
    meant, nobody = AuditRow.objects.order_by("id")
    assert (meant.event, meant.actor) == ("sign_in.failed", None)
    assert meant.subject == f"person {person.pk}"
    assert nobody.subject == "unknown sign-in name"
    for row in (meant, nobody):
        assert row.detail == {"address": HALL}


def test_a_lock_is_one_row_and_tries_during_it_are_none(person: Person) -> None:
    for _ in range(9):
        sign_in("rosa", "wrong")
    assert events() == ["sign_in.failed"] * 5 + ["sign_in.locked"]
    assert AuditRow.objects.get(event="sign_in.locked").detail == {
        "address": HALL,
        "seconds": 300,
    }


def test_a_changed_password_is_noted_and_a_refused_one_is_not(
    person: Person, client_of: Callable[[Person], Client]
) -> None:
    client = client_of(person)
    for new in ("short", "nine lanes of cold tea"):
        typed = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
        client.post("/password", typed)
    row = AuditRow.objects.get(event="person.password_changed")
    assert (row.actor, row.subject, row.detail) == (person, f"person {person.pk}", {})


def test_no_secret_stands_in_a_row(person: Person) -> None:
    sign_in("rosa", "a wrong word")
    sign_in("rosa", PASSWORD)
    for row in AuditRow.objects.all():
        assert PASSWORD not in str(row.detail)
        assert "a wrong word" not in str(row.detail)
