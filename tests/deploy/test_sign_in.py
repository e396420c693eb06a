"""Coming in, going out, changing the password, and what a stranger sees."""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import URLResolver, get_resolver, resolve
from rest_framework.views import APIView

from deploy.middleware import SignInRequired
from inventory.models import Person
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
EXAMPLES = ("1", "T22222", "csv", "00000000-0000-0000-0000-000000000001")


def example_addresses(
    patterns: list[Any] | None = None, prefix: str = ""
) -> Iterator[str]:
    """Yield an address for each route, an open part filled with what fits there."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        route = str(pattern.pattern)
        for name, converter in pattern.pattern.converters.items():
            fitting = (one for one in EXAMPLES if re.fullmatch(converter.regex, one))
            route = re.sub(rf"<(\w+:)?{name}>", next(fitting), route)
        if isinstance(pattern, URLResolver):
            yield from example_addresses(pattern.url_patterns, prefix + route)
        else:
            yield f"/{prefix}{route}"


def test_every_route_but_the_public_ones_sends_a_stranger_away() -> None:
    for address in example_addresses():
        answer = Client().get(address)
        match = resolve(address)
        if match.view_name in settings.PUBLIC_ROUTES:
            continue
        if issubclass(getattr(match.func, "cls", object), APIView):
            assert answer.status_code in {401, 403}, address
            continue
        assert answer.status_code == 302, address
        assert answer["Location"].startswith("/sign-in?next="), address


def test_sign_in_leads_back_to_where_one_was_going(person: Person) -> None:
    client = Client()
    typed = {"username": "Rosa", "password": PASSWORD, "next": "/password"}
    answer: Any = client.post("/sign-in", typed)
    assert (answer.status_code, answer["Location"]) == (302, "/password")
    assert client.get("/password").status_code == 200


def test_sign_in_leads_to_no_other_site(person: Person) -> None:
    typed = {
        "username": "rosa", "password": PASSWORD, "next": "https://elsewhere.example/"
    }  # fmt: skip
    answer: Any = Client().post("/sign-in", typed)
    assert answer["Location"] == "/"


def test_sign_in_keeps_the_name_and_not_the_password(person: Person) -> None:
    page = Client().post("/sign-in", {"username": "rosa", "password": "mistyped"})
    text = page.content.decode()
    assert 'value="rosa"' in text
    assert "mistyped" not in text


def test_sign_in_changes_the_session_and_sign_out_ends_it(person: Person) -> None:
    client = Client()
    client.get("/sign-in")
    client.post("/sign-in", {"username": "rosa", "password": PASSWORD})
    stolen = client.cookies["session"].value
    client.post("/sign-out")
    thief = Client()
    thief.cookies["session"] = stolen
    assert thief.get("/password").status_code == 302


def test_a_changed_password_ends_the_other_sessions(
    person: Person, client_of: Callable[[Person], Client]
) -> None:
    here, elsewhere = client_of(person), client_of(person)
    new = "nine lanes of cold tea"
    typed = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    answer: Any = here.post("/password", typed)
    assert answer["Location"] == "/password/changed"
    assert here.get("/password/changed").status_code == 200
    assert elsewhere.get("/password").status_code == 302


def test_a_weak_new_password_is_refused_with_the_reason(
    person: Person, client_of: Callable[[Person], Client]
) -> None:
    typed = {
        "old_password": PASSWORD,
        "new_password1": "passwordpassword",
        "new_password2": "passwordpassword",
    }
    page = client_of(person).post("/password", typed)
    assert "one that many people use" in page.content.decode()
    person.refresh_from_db()
    assert person.check_password(PASSWORD)


def test_someone_not_active_does_not_get_in(person: Person) -> None:
    Person.objects.filter(pk=person.pk).update(is_active=False)
    typed = {"username": "rosa", "password": PASSWORD}
    assert Client().post("/sign-in", typed).status_code == 200


def test_someone_made_inactive_is_out_at_the_next_request(
    person: Person, client_of: Callable[[Person], Client]
) -> None:
    client = client_of(person)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert client.get("/password").status_code == 302


def test_a_form_without_its_token_is_refused(person: Person) -> None:
    strict = Client(enforce_csrf_checks=True)
    page = strict.post("/sign-in", {"username": "rosa", "password": PASSWORD})
    assert page.status_code == 403
    assert "The form was too old" in page.content.decode()


def test_htmx_is_told_to_leave_the_page() -> None:
    answer = Client().get(
        "/password",
        headers={"hx-request": "true", "hx-current-url": "http://testserver/block/7"},
    )
    assert answer.status_code == 200
    assert answer["HX-Redirect"] == "/sign-in?next=/block/7"


def test_a_decorator_opens_nothing(rf: RequestFactory) -> None:
    def opened(request: HttpRequest) -> HttpResponse:
        raise AssertionError

    opened.login_required = False  # type: ignore[attr-defined]
    request: Any = rf.get("/password")
    request.resolver_match = resolve("/password")
    request.user = type("Stranger", (), {"is_authenticated": False})()
    keeper = SignInRequired(lambda request: None)  # type: ignore[arg-type]
    answer = keeper.process_view(request, opened, (), {})
    assert answer is not None
    assert answer.status_code == 302


def test_pages_of_refusal_say_what_to_do(
    person: Person, client_of: Callable[[Person], Client]
) -> None:
    page = client_of(person).get("/no-such-page")
    assert page.status_code == 404
    assert "No such page" in page.content.decode()


def test_what_can_be_overheard_is_said_at_sign_in_and_in_the_foot() -> None:
    words = "Not encrypted: others on this network could read what you send"
    page = Client().get("/sign-in").content.decode()
    assert words in page
    assert page.count("Not encrypted") == 2
    protected = Client().get("/sign-in", secure=True).content.decode()
    assert "Not encrypted" not in protected


@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost", "[::1]:8000"])
def test_nothing_is_said_where_nothing_leaves_the_machine(
    host: str, settings: Any
) -> None:
    settings.ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]"]
    page = Client().get("/sign-in", HTTP_HOST=host).content.decode()
    assert "Not encrypted" not in page
