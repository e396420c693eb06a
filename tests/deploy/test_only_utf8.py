"""A request says how it is written, and Python can decode much besides UTF-8."""

import codecs
import encodings.aliases
import io
from collections.abc import Iterator
from typing import Any
from wsgiref.util import setup_testing_defaults

import pytest
from django.core.signals import request_finished, request_started
from django.db import close_old_connections

from deploy.starting.applications import wsgi_application

pytestmark = pytest.mark.django_db

#: Every codec that Python has, those that are none of text among them.
CODECS = sorted({*encodings.aliases.aliases.values(), "idna", "punycode", "undefined"})
APPLICATION: Any = wsgi_application()


def answer(address: str, content_type: str, body: bytes = b"") -> tuple[int, str, str]:
    """Ask as a server asks: the request is made of what a stranger has sent."""
    path, _, query = address.partition("?")
    environment: dict[str, Any] = {"PATH_INFO": path, "QUERY_STRING": query}
    setup_testing_defaults(environment)
    environment |= {"HTTP_HOST": "testserver", "CONTENT_TYPE": content_type}
    environment |= {"CONTENT_LENGTH": str(len(body)), "wsgi.input": io.BytesIO(body)}
    environment["REQUEST_METHOD"] = "POST" if body else "GET"
    started: list[Any] = []
    found: Any = APPLICATION(environment, lambda *words: started.extend(words))
    text = b"".join(found).decode()
    return int(started[0][:3]), dict(started[1])["Content-Type"], text


@pytest.fixture(autouse=True)
def on_the_line_of_the_test() -> Iterator[None]:
    """Let a request close no connection: the test's rows are seen on its own alone."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.parametrize("name", CODECS)
def test_no_way_of_writing_breaks_a_page(name: str) -> None:
    try:
        is_other = codecs.lookup(name).name not in {"utf-8", "ascii"}
    except LookupError:
        is_other = False  # one of Windows
    status, *_ = answer("/sign-in?next=%2Fnights", f"text/plain; charset={name}")
    assert status == (400 if is_other else 200)


@pytest.mark.parametrize(
    "says",
    ["charset*=nosuch''utf-8", "charset*=hex''utf-8", "charset*0=h; charset*1=ex"],
)
def test_no_way_of_naming_it_breaks_a_page(says: str) -> None:
    """RFC 2231: a parameter that says itself how it is written, or is in pieces."""
    status, *_ = answer("/sign-in", f"text/plain; {says}")
    assert status in {200, 400}


@pytest.mark.parametrize("name", ["nosuch", '"utf-8"', "US-ASCII", "", "\xff"])
def test_a_name_of_nothing_is_read_as_utf8(name: str) -> None:
    # Some clients send such a one without meaning it; what comes then is the refusal
    # of a form without its token, and no fault.
    content_type = f"application/x-www-form-urlencoded; charset={name}"
    status, *_ = answer("/sign-in", content_type, b"username=r%C3%B3sa")
    assert status == 403


def test_to_the_api_it_is_a_problem() -> None:
    for body in (b"", b"{}"):
        says = "application/json; charset=hex"
        status, content_type, text = answer("/api/v1/me", says, body)
        assert (status, content_type) == (400, "application/problem+json")
        assert '"malformed"' in text
