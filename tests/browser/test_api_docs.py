"""The API's documentation, with the network cut but for the service itself."""

import json
from typing import Any

import pytest
from pytest_django.live_server_helper import LiveServer

from inventory.compute.roles import Role
from tests.api.test_operations import operations
from tests.architecture.test_permissions import make_club
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import scrolls_sideways

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.sqlite]

#: Sends what stands on the page as a browser that is signed in does.
SEND = """async ([method, address, body]) => {
  const me = await (await fetch("/api/v1/me")).json();
  const headers = {"Content-Type": "application/json", "X-CSRFToken": me.csrf_token};
  const answer = await fetch(address, {method, headers, body: JSON.stringify(body)});
  return [answer.status, await answer.json()];
}"""


def test_the_documentation_and_its_examples_need_no_other_host(
    page_of: Visitor, live_server: LiveServer
) -> None:
    club = make_club()
    keeper = club.people[Role.PARTS_KEEPER]
    page = page_of(keeper, viewport=PHONE)
    # The network is cut: what is not on this machine is not reached.
    page.context.route(
        lambda url: not url.startswith(live_server.url), lambda route: route.abort()
    )
    page.goto("/api/v1/docs")
    # All is there that the description says, each example as its operation has it.
    said = {
        one.name: one.example
        for *_, one in operations()
        if one.example and one.takes and not one.is_upload
    }
    page.evaluate(
        "for (const one of document.querySelectorAll('details')) one.open = true"
    )
    shown: dict[str, Any] = {
        name: json.loads(text)
        for name, text in page.eval_on_selector_all(
            "details:has(.api-example)",
            "all => all.map(one => "
            "[one.id, one.querySelector('.api-example').textContent])",
        )
    }
    assert said.items() <= shown.items()
    assert not scrolls_sideways(page)
    # And it is true: what is shown is sent as it stands.
    for name, address in (
        ("take_in_parts", "/api/v1/parts"),
        ("take_in_own_parts", "/api/v1/parts/own"),
        ("measure_part", f"/api/v1/parts/{club.tag}/readings"),
    ):
        status, answer = page.evaluate(SEND, ["POST", address, shown[name]])
        assert status == 201, answer
    status, answer = page.evaluate(SEND, ["POST", "/api/v1/parts", {"x": 1}])
    assert status == 400
    assert answer["errors"][0]["field"] == "x"
