"""What every answer says to the browser, under the shared settings (S2 to S5)."""

import importlib
from collections.abc import Iterator
from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver, path

from inventory.models import Person
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db

POLICY = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "connect-src 'self'",
    "font-src 'self'",
    "manifest-src 'self'",
    "worker-src 'self'",
    "img-src 'self' data: blob:",
    "object-src 'none'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
    "form-action 'self'",
}


def broken(request: HttpRequest) -> HttpResponse:
    raise RuntimeError


# The addresses of an installation in which one page is broken.
urlpatterns = [path("sign-in", broken, name="sign_in")]
handler500 = "deploy.failures.server_error"


@pytest.fixture
def client(monkeypatch: pytest.MonkeyPatch) -> Iterator[Client]:
    """Yield a browser of the shared installation, over HTTPS."""
    monkeypatch.setenv("FEELERBOOK_SECRET_KEY", "k" * 60)
    monkeypatch.setenv("FEELERBOOK_HOSTS", "desk.example")
    monkeypatch.setenv("DATABASE_URL", "postgresql:///never-opened")
    shared = importlib.import_module("deploy.settings.shared")
    kept = {"DATABASES", "STATIC_ROOT", "STORAGES", "PASSWORD_HASHERS"}
    changed = {
        name: getattr(shared, name)
        for name in dir(shared)
        if name.isupper() and name not in kept
    }
    with override_settings(**changed):
        yield Client(headers={"host": "desk.example"}, raise_request_exception=False)


def addresses(patterns: list[Any] | None = None, prefix: str = "/") -> Iterator[str]:
    """Yield the address of each route that has no open part."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        address = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, address)
        elif isinstance(pattern, URLPattern) and "<" not in address:
            yield address


def answers(client: Client) -> Iterator[HttpResponseBase]:
    for address in [*addresses(), "/no-such-page"]:
        yield client.get(address, secure=True)
    with override_settings(ROOT_URLCONF=__name__):
        answer = client.get("/sign-in", secure=True)
        assert answer.status_code == 500
        yield answer


def test_every_answer_has_the_headers(client: Client) -> None:
    for answer in answers(client):
        where = f"{answer.status_code} {answer.headers}"
        assert (
            answer["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"
        ), where
        assert answer["X-Content-Type-Options"] == "nosniff", where
        assert answer["Referrer-Policy"] == "same-origin", where
        assert answer["Cross-Origin-Opener-Policy"] == "same-origin", where
        assert answer["X-Frame-Options"] == "DENY", where
        assert answer["Permissions-Policy"].startswith("camera=(self), "), where
        assert "Access-Control-Allow-Origin" not in answer.headers, where
        policy = answer["Content-Security-Policy"]
        assert {part.strip() for part in policy.split(";")} == POLICY, where


def test_every_cookie_is_bound_to_the_host(client: Client, person: Person) -> None:
    page = client.get("/sign-in", secure=True)
    typed = {"username": person.sign_in_name, "password": PASSWORD}
    signed_in = client.post("/sign-in", typed, secure=True)
    assert signed_in.status_code == 302
    found = [*page.cookies.values(), *signed_in.cookies.values()]
    assert {cookie.key for cookie in found} == {"__Host-csrf", "__Host-session"}
    for cookie in found:
        assert cookie["secure"], cookie
        assert cookie["httponly"], cookie
        assert cookie["samesite"] == "Lax", cookie
        assert cookie["path"] == "/", cookie
        assert not cookie["domain"], cookie


def test_plain_http_is_sent_to_https_and_health_is_not(client: Client) -> None:
    answer = client.get("/sign-in")
    assert (answer.status_code, answer["Location"]) == (
        301,
        "https://desk.example/sign-in",
    )
    assert client.get("/live").status_code == 200


def test_a_fault_tells_nothing_of_the_service(client: Client) -> None:
    with override_settings(ROOT_URLCONF=__name__):
        text = client.get("/sign-in", secure=True).content.decode()
    assert "Something went wrong" in text
    for word in ("Traceback", "RuntimeError", "Django", "/deploy/"):
        assert word not in text
