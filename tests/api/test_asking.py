"""What every operation has in common: problems, states, sessions, the documentation."""

import base64
import json
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.validation import validate_schema
from rest_framework.test import APIRequestFactory, force_authenticate

from deploy.api.pages import description
from inventory.api.account.operations import who_asks
from inventory.api.foundation.operations import Ending
from inventory.api.foundation.views import route
from inventory.compute.roles import Role
from inventory.models import Part
from tests.api.asking import given, problem_of, script_of
from tests.builders import make_person

pytestmark = pytest.mark.django_db


def test_a_stranger_gets_a_problem_and_is_told_how_to_ask() -> None:
    answer = Client().get("/api/v1/me")
    assert problem_of(answer, 401)["code"] == "not_authenticated"
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    problem_of(Client().get("/api/v1/openapi.json"), 401)
    assert Client().get("/api/v1/docs").status_code == 302


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("nothing/here", 404),
        ("me?%00=1", 400),
        ("me?other=1", 400),
        ("me?fields=x", 400),
    ],
)
def test_whatever_is_refused_is_a_problem(address: str, status: int) -> None:
    problem_of(script_of(make_person()).get(address), status)


def test_a_method_that_is_not_known_is_a_problem_and_says_which_are() -> None:
    answer = script_of(make_person()).post("me")
    problem_of(answer, 405)
    assert "GET" in answer.headers["Allow"]


def test_a_look_that_finds_nothing_new_is_304() -> None:
    script = script_of(make_person())
    answer = script.get("me?fields=id,name")
    assert given(answer).keys() == {"id", "name"}
    tag = answer.headers["ETag"]
    # Without packing the tag is a strong one (RFC 9110, 8.8.3).
    assert tag.startswith('"')
    again = script.get("me", if_none_match=f'"x", W/{tag}')
    assert (again.status_code, again.content) == (304, b"")
    # RFC 9110, 13.2.1: a condition counts where the answer would else be good.
    problem_of(script.get("me?fields=x", if_none_match="*"), 400)


def test_a_key_has_no_blank_in_it() -> None:
    script = script_of(make_person())
    for wrong in ("5yVq \\", "k" * 81, "naïve"):
        refused = script.post(
            "parts/own", {"kind": "tyre", "facts": {}}, idempotency_key=wrong
        )
        assert problem_of(refused, 422)["errors"][0]["code"] == "no_key", wrong


BODIES_THAT_ARE_NONE = {
    "nested arrays": b"[" * 100_000,
    "nested objects": b'{"title":' * 50_000,
    "half a pair in a name": b'{"\\ud800": 1}',
    "half a pair in a value": b'{"shared": "\\ud83d"}',
    "not a number": b'{"shared": NaN}',
    "no UTF-8": b'{"shared": "\xff"}',
    "cut off": b'{"shared"',
}


@pytest.mark.parametrize(
    "body", BODIES_THAT_ARE_NONE.values(), ids=BODIES_THAT_ARE_NONE
)
def test_a_body_that_no_program_reads_alike_is_refused(body: bytes) -> None:
    """RFC 8259, 8.1 and 8.2, and 9: a reader may set limits to the depth."""
    answer = sent(body, "application/json")
    assert problem_of(answer, 400)["code"] == "parse_error"


def test_a_body_that_is_too_long_is_said_to_be(settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 2_000
    # RFC 9110, 15.5.14.
    answer = sent(b'{"shared": "' + b"x" * 3_000 + b'"}', "application/json")
    assert problem_of(answer, 413)["code"] == "too_long"


@pytest.mark.parametrize(
    ("media_type", "status"),
    [
        # RFC 9110, 8.3.1: the case of a type says nothing.
        ("Application/JSON", 400),
        ('application/json; charset="UTF-8"', 400),
        ("text/plain", 415),
        ("application/x-www-form-urlencoded", 415),
    ],
)
def test_a_body_is_read_by_its_type(media_type: str, status: int) -> None:
    problem_of(sent(b'{"kind": "tyre", "other": 1}', media_type), status)


def sent(body: bytes, media_type: str) -> Any:
    script = script_of(make_person(Role.PARTS_KEEPER))
    return Client(raise_request_exception=False).generic(
        "POST",
        "/api/v1/parts/own",
        body,
        content_type=media_type,
        headers={"Authorization": f"Bearer {script.text}"},
    )


#: Written as ours are, and none of ours: what stands in them is kept nowhere.
NO_CURSORS = {
    "nested": "[" * 9_000,
    "half a pair": '["\\ud800", 1]',
    "NUL": '["\\u0000", 1]',
    "the last hours": '["9999-12-31T23:59:59-14:00", 1]',
    "the first hours": '["0001-01-01T00:00:00+14:00", 1]',
    "no zone": '["2026-05-08T19:00:00", 1]',
    "not a number": '["NaN", 1]',
    "beyond any key": f'["1", {2**63}]',
}


@pytest.mark.parametrize("text", NO_CURSORS.values(), ids=NO_CURSORS)
@pytest.mark.parametrize("rows", ["parts", "sheets", "protests", "pairs"])
def test_a_cursor_that_was_made_up_breaks_no_list(rows: str, text: str) -> None:
    cursor = base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")
    answer = script_of(make_person()).get(f"{rows}?cursor={cursor}")
    if answer.status_code != 200:
        assert problem_of(answer, 400)["code"] == "no_cursor"


def test_the_description_is_valid_and_was_made_without_a_warning() -> None:
    GENERATOR_STATS.reset()
    description.cache_clear()
    said = description()
    assert not GENERATOR_STATS
    assert said["openapi"].startswith("3.1")
    # Against the OpenAPI Initiative's own schema of 3.1, which the package carries.
    validate_schema(said)  # type: ignore[no-untyped-call]
    assert given(script_of(make_person()).get("openapi.json")) == said


def test_what_is_sent_twice_without_a_key_is_made_twice_as_described() -> None:
    twice = "sent twice without an Idempotency-Key makes two"
    for address, methods in description()["paths"].items():
        for method, operation in methods.items():
            makes = method == "post" and "201" in operation["responses"]
            assert (twice in operation["description"]) == makes, (method, address)
    script = script_of(make_person(Role.MEMBER))
    said = {"kind": "tyre", "facts": {"compound": "soft"}}
    for count in (1, 2):
        given(script.post("parts/own", said), 201)
        assert Part.objects.count() == count


class Outside(HTMLParser):
    """What a page would fetch, and where its links lead."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.fetched: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        self.ids.add(said.get("id", ""))
        self.fetched += [said[name] for name in ("src", "href") if name in said]


def test_the_documentation_names_every_operation_and_needs_no_other_host() -> None:
    client = Client()
    client.force_login(make_person(Role.MEMBER))
    answer = client.get("/api/v1/docs")
    page = Outside()
    page.feed(answer.content.decode())
    operations = {
        said["operationId"]
        for methods in description()["paths"].values()
        for said in methods.values()
    }
    assert operations <= page.ids
    assert not [one for one in page.fetched if one.startswith(("http", "//"))]
    assert "'none'" in answer.headers["Content-Security-Policy"]


def test_a_session_may_write_with_the_csrf_token_alone() -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(make_person(Role.SCRUTINEER))
    token = given(client.get("/api/v1/me"))["csrf_token"]
    new = {"name": "Caliper, red", "instrument": "caliper", "mode": "outside"}
    new |= {"unit": "mm", "resolution": "0.01", "max_permissible_error": "0.02"}
    body = json.dumps(new | {"check_every_days": 180})
    said: dict[str, Any] = {"data": body, "content_type": "application/json"}
    problem_of(client.post("/api/v1/gauges", **said), 403)
    sent = client.post("/api/v1/gauges", headers={"X-CSRFToken": token}, **said)
    assert given(sent, 201)["items"][0]["name"] == "Caliper, red"


def test_what_will_go_says_since_when_and_until_when() -> None:
    ending = Ending(
        since=datetime(2026, 12, 1, tzinfo=UTC), ends=datetime(2027, 6, 1, tzinfo=UTC)
    )
    view: Any = route("x", "x", get=replace(who_asks, ending=ending)).callback
    request = APIRequestFactory().get("/x")
    force_authenticate(request, user=make_person())
    answer = view(request)
    # RFC 9745, 2.1: a date as a structured field; RFC 8594, 3: a date of HTTP.
    assert answer.headers["Deprecation"] == "@1796083200"
    assert answer.headers["Sunset"] == "Tue, 01 Jun 2027 00:00:00 GMT"
