"""How long a sign-in lasts, by role, and that no browser keeps its pages."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.conf import settings
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from deploy.signing_in.sessions import DESK, MEMBER, age_of
from inventory.compute.roles import Role
from inventory.models import OpenSession, Person
from tests import builders
from tests.conftest import PASSWORD, queries_of

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)
Travel = Callable[[dt.timedelta], None]


@pytest.fixture
def travel(monkeypatch: pytest.MonkeyPatch) -> Travel:
    """Return a function that moves the clock of the service on."""
    began, passed = timezone.now(), dt.timedelta(0)

    def now() -> dt.datetime:
        return began + passed

    def on(step: dt.timedelta) -> None:
        nonlocal passed
        passed += step

    monkeypatch.setattr(timezone, "now", now)
    return on


def is_in(client: Client) -> bool:
    return client.get("/password").status_code == 200


@pytest.mark.parametrize(
    ("roles", "age"),
    [
        ([], MEMBER),
        ([Role.MEMBER], MEMBER),
        ([Role.MEMBER, Role.SCRUTINEER], DESK),
        ([Role.PARTS_KEEPER], DESK),
        ([Role.CHIEF_SCRUTINEER, Role.ADMIN], DESK),
    ],
)
def test_the_shortest_age_of_the_roles_counts(roles: list[Role], age: object) -> None:
    assert age_of(roles) is age


@pytest.mark.parametrize("role", [Role.MEMBER, Role.SCRUTINEER])
def test_a_session_ends_when_it_is_idle_and_not_before(
    role: Role, travel: Travel, client_of: Callable[[Person], Client]
) -> None:
    client, idle = client_of(builders.make_person(role)), age_of([role]).idle
    travel(idle - MINUTE)
    assert is_in(client)
    travel(idle - MINUTE)
    assert is_in(client)
    travel(idle + MINUTE)
    assert not is_in(client)


@pytest.mark.parametrize("role", [Role.MEMBER, Role.ADMIN])
def test_a_session_ends_in_all_however_much_it_is_used(
    role: Role, travel: Travel, client_of: Callable[[Person], Client]
) -> None:
    client, age = client_of(builders.make_person(role)), age_of([role])
    step = age.idle / 2
    left = age.whole
    while left > step:
        travel(step)
        left -= step
        assert is_in(client)
    travel(left - MINUTE)
    assert is_in(client)
    travel(2 * MINUTE)
    assert not is_in(client)


def test_use_is_written_now_and_then_and_not_at_each_request(
    travel: Travel, client_of: Callable[[Person], Client]
) -> None:
    client = client_of(builders.make_person(Role.SCRUTINEER))

    def writes() -> int:
        said = queries_of(lambda: client.get("/password"))
        return sum("UPDATE" in statement for statement in said)

    assert writes() == 0
    travel(2 * MINUTE)
    assert writes() == 0
    travel(2 * MINUTE)
    assert writes() == 1
    assert writes() == 0


def test_a_page_is_read_where_its_use_cannot_be_written(
    travel: Travel, client_of: Callable[[Person], Client]
) -> None:
    client = client_of(builders.make_person(Role.SCRUTINEER))
    travel(10 * MINUTE)

    def full(execute: Callable[..., object], sql: str, *rest: object) -> object:
        if sql.startswith("UPDATE"):
            raise OperationalError
        return execute(sql, *rest)

    with connection.execute_wrapper(full):
        assert is_in(client)


def test_ended_sessions_are_cleaned_away_when_somebody_signs_in(
    travel: Travel, client_of: Callable[[Person], Client]
) -> None:
    person = builders.make_person(Role.SCRUTINEER)
    client_of(person)
    travel(DESK.idle + MINUTE)
    client_of(person)
    assert OpenSession.objects.count() == 1


def test_the_cookie_outlives_every_session(person: Person) -> None:
    client = Client()
    client.post("/sign-in", {"username": "rosa", "password": PASSWORD})
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    assert cookie["max-age"] == MEMBER.whole.total_seconds()


def test_no_browser_keeps_a_page_of_somebody_signed_in(
    client_of: Callable[[Person], Client],
) -> None:
    client = client_of(builders.make_person(*Role))
    for address in ("/password", "/", "/no-such-page", "/people", "/fit"):
        answer = client.get(address)
        assert "no-store" in answer["Cache-Control"], address
    assert "Cache-Control" not in Client().get("/fit").headers
