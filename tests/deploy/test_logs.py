"""The log: a number on each request, a line on each answer, names of slow queries."""

import io
import json
import logging
from collections.abc import Iterator

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import include, path

from deploy.logs.lines import JsonLine, Numbered
from deploy.logs.requests import HEADER
from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders


def failing(request: HttpRequest, code: str) -> HttpResponse:
    msg = "a fault\n{} of ours"
    raise RuntimeError(msg)


def refusing(request: HttpRequest) -> HttpResponse:
    raise PermissionDenied


def asking(request: HttpRequest) -> HttpResponse:
    return HttpResponse(str(Person.objects.count()))


handler500 = "deploy.failures.server_error"
urlpatterns = [
    path("failing/<str:code>", failing),
    path("refusing", refusing),
    path("asking", asking),
    path("", include("deploy.urls")),
]
pytestmark = [pytest.mark.django_db, pytest.mark.urls(__name__)]


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    """Give what the log's own handler writes while the test runs."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLine())
    handler.addFilter(Numbered())
    loggers = [logging.getLogger(name) for name in ("django", "feelerbook")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.addHandler(handler)
        logger.setLevel(logging.INFO)
    yield stream
    for logger, level in zip(loggers, levels, strict=True):
        logger.removeHandler(handler)
        logger.setLevel(level)


def read(stream: io.StringIO) -> list[dict[str, object]]:
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def signed_in() -> tuple[Client, Person]:
    person = builders.make_person(Role.MEMBER)
    client = Client(raise_request_exception=False)
    client.force_login(person)
    return client, person


def test_a_failure_s_page_says_the_number_under_which_the_log_has_it(
    lines: io.StringIO,
) -> None:
    client, person = signed_in()
    answer = client.get("/failing/secret-code?name=Rosa", headers={HEADER: "mine"})
    number = answer.headers[HEADER]
    assert answer.status_code == 500
    assert f"<b>{number}</b>" in answer.content.decode()
    assert number != "mine"
    said = read(lines)
    assert {line["request"] for line in said} == {number}
    (traceback,) = [line["traceback"] for line in said if "traceback" in line]
    assert "raise RuntimeError(msg)\nRuntimeError: a fault\n" in str(traceback)
    (line,) = [line for line in said if line["logger"] == "feelerbook.access"]
    assert (line["method"], line["status"], line["person"]) == ("GET", 500, person.pk)
    # What was in the address may open a door: its pattern is enough.
    assert line["route"] == "/failing/<str:code>"
    assert "Rosa" not in lines.getvalue()
    assert "secret-code" not in lines.getvalue()
    again = client.get("/asking").headers[HEADER]
    assert again != number


def test_a_refusal_is_a_line_without_a_traceback(lines: io.StringIO) -> None:
    client, _ = signed_in()
    assert client.get("/refusing").status_code == 403
    said = read(lines)
    assert [line["status"] for line in said if "status" in line] == [403]
    assert not [line for line in said if "traceback" in line]


@pytest.mark.parametrize(
    ("address", "status"),
    [("/refusing", 403), ("/nowhere", 404), ("/api/v1/me?x=1", 400), ("/link", 404)],
)
def test_each_line_of_a_refusal_has_the_answer_s_number(
    lines: io.StringIO, address: str, status: int
) -> None:
    client, _ = signed_in()
    answer = client.get(address)
    assert answer.status_code == status
    said = read(lines)
    # Django's own line and ours.
    assert {line["logger"] for line in said} == {"django.request", "feelerbook.access"}
    assert {line.get("request") for line in said} == {answer.headers[HEADER]}


def test_a_slow_query_is_named_by_who_asked_it_and_without_what_was_typed(
    lines: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _ = signed_in()
    monkeypatch.setattr("django.conf.settings.SLOW_QUERY_S", 0.0)
    client.get("/asking")
    said = read(lines)
    asked = [line for line in said if line["logger"] == "feelerbook.queries"]
    counting = [line for line in asked if "COUNT(*)" in str(line["sql"])]
    assert len(counting) == 1
    assert str(counting[0]["sql"]).count(connection.ops.quote_name("inventory_person"))
    # The session's key is a parameter, and is in no line.
    key = client.cookies["session"].value
    assert key not in lines.getvalue()


def test_a_line_stays_one_line_whatever_is_logged() -> None:
    record = logging.makeLogRecord({"msg": 'one\n{"level": 1}\u2028two', "x": {1}})
    text = JsonLine().format(record)
    assert len(text.split("\n")) == 1
    assert json.loads(text)["message"] == 'one\n{"level": 1}\u2028two'
