"""Tokens: shown once, hashed, scoped, never above their owner, ended with them."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.urls import reverse

from inventory.actions.audit import Act
from inventory.actions.people.roles import switch_off, switch_on, take_role
from inventory.actions.people.tokens import end_token, make_token
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.compute.tokens import MOST_DAYS, Scope
from inventory.models import ApiToken, AuditRow, Person
from tests.api.asking import Script, given, problem_of, script_of
from tests.builders import act, make_person, now

pytestmark = pytest.mark.django_db


def test_a_token_is_made_on_a_page_shown_once_and_kept_as_a_hash() -> None:
    person = make_person(Role.SCRUTINEER, name="Ida Penn")
    client = Client()
    client.force_login(person)
    said = {"name": "the till printer", "scope": "read", "days": "30"}
    page = client.post(reverse("inventory:tokens"), said).content.decode()
    (text,) = re.findall(r"fbk_[\w-]+", page)
    # ASVS 5.0, 11.5.1: 128 bits or more; 24 bytes are 32 signs of base64.
    assert len(text) >= 4 + 32
    again = client.get(reverse("inventory:tokens")).content.decode()
    assert text not in again
    assert "the till printer" in again
    kept = [str(row) for row in ApiToken.objects.values_list()]
    kept += [str(row) for row in AuditRow.objects.values_list()]
    assert text not in "".join(kept)
    assert given(Script(text).get("me"))["name"] == "Ida Penn"
    token = ApiToken.objects.get()
    assert token.last_used_at is not None
    client.post(reverse("inventory:end_token", args=[token.pk]))
    problem = problem_of(Script(text).get("me"), 401)
    assert problem["code"] == "token_unknown"


def test_a_scope_is_never_above_the_role() -> None:
    member = make_person(Role.MEMBER)
    with pytest.raises(RefusedError, match="more than you may"):
        make_token("x", Scope.PARTS, days=9, act=Act(by=member, at=now()))
    page = Client()
    page.force_login(member)
    shown = page.get(reverse("inventory:tokens")).content.decode()
    assert 'value="read"' in shown
    assert 'value="parts"' not in shown
    scrutineer = make_person(Role.SCRUTINEER)
    script = script_of(scrutineer)
    assert "inspect cars" in given(script.get("me"))["abilities"]
    # What the owner loses, the token has lost.
    take_role(scrutineer, Role.SCRUTINEER, act=act())
    assert problem_of(script.get("me"), 403)["code"] == "not_allowed"


@pytest.mark.parametrize("days", [0, MOST_DAYS + 1])
def test_a_token_is_good_for_a_year_at_most(days: int) -> None:
    with pytest.raises(RefusedError):
        make_token("x", Scope.READ, days=days, act=Act(by=make_person(), at=now()))


def ended(person: Person) -> None:
    end_token(person.tokens.get().pk, act=Act(by=person, at=now()))


def run_out(person: Person) -> None:
    person.tokens.update(ends_at=now() - timedelta(seconds=1))


def off_and_on(person: Person) -> None:
    switch_off(person, act=act())
    switch_on(person, act=act())


@pytest.mark.parametrize("deed", [ended, run_out, off_and_on])
def test_a_token_ends(deed: Any) -> None:
    person = make_person()
    script = script_of(person)
    given(script.get("me"))
    deed(person)
    problem_of(script.get("me"), 401)


def test_nobody_ends_the_token_of_another() -> None:
    person = make_person()
    script_of(person)
    with pytest.raises(RefusedError):
        end_token(person.tokens.get().pk, act=Act(by=make_person(), at=now()))


def test_an_admin_ends_the_token_of_another() -> None:
    owner, admin = make_person(), make_person(Role.ADMIN)
    script, token = script_of(owner), owner.tokens.get()
    client = Client()
    client.force_login(admin)
    where = reverse("inventory:person", args=[owner.pk])
    end = reverse("inventory:end_token_of", args=[owner.pk, token.pk])
    assert end in client.get(where).content.decode()
    client.post(end)
    problem_of(script.get("me"), 401)
    row = AuditRow.objects.get(event="token.ended")
    assert (row.actor, row.detail["owner"]) == (admin, owner.pk)
    assert end not in client.get(where).content.decode()


def test_each_token_is_throttled_for_itself(settings: Any) -> None:
    cache.clear()
    first, second = script_of(make_person()), script_of(make_person())
    from inventory.api.foundation.sign_in import TokenThrottle  # noqa: PLC0415

    before = TokenThrottle.THROTTLE_RATES
    TokenThrottle.THROTTLE_RATES = {"token": "3/min"}
    try:
        for _ in range(3):
            given(first.get("me"))
        answer = first.get("me")
        assert problem_of(answer, 429)["code"] == "throttled"
        assert 1 <= int(answer.headers["Retry-After"]) <= 61
        given(second.get("me"))
    finally:
        TokenThrottle.THROTTLE_RATES = before
        cache.clear()


def test_the_database_is_asked_twice_for_a_token_and_a_role() -> None:
    script = script_of(make_person())
    given(script.get("me"))
    with connection.execute_wrapper(counting := Counting()):
        given(script.get("me"))
    # The token with its person; the roles; the session is not opened.
    assert counting.count <= 2


class Counting:
    def __init__(self) -> None:
        self.count = 0

    def __call__(self, execute: Any, *rest: Any) -> Any:
        self.count += 1
        return execute(*rest)
