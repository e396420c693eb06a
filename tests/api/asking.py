"""Asking the API as a script does: with a token, in JSON."""

import json
from dataclasses import dataclass
from typing import Any

from django.test import Client

from inventory.actions.audit import Act
from inventory.actions.people.tokens import make_token
from inventory.compute.tokens import Scope
from inventory.models import Person
from tests.builders import now

BASE = "/api/v1/"


@dataclass(frozen=True)
class Script:
    """A script with a token; its answers are checked to be JSON or a problem."""

    text: str

    def ask(self, method: str, address: str, body: Any = None, **headers: str) -> Any:
        where = address if address.startswith("/") else f"{BASE}{address}"
        said = {"authorization": f"Bearer {self.text}"} | {
            name.replace("_", "-"): value for name, value in headers.items()
        }
        data: dict[str, Any] = {} if body is None else {"data": json.dumps(body)}
        return Client().generic(
            method, where, content_type="application/json", headers=said, **data
        )

    def get(self, address: str, **headers: str) -> Any:
        return self.ask("GET", address, **headers)

    def post(self, address: str, body: Any = None, **headers: str) -> Any:
        return self.ask("POST", address, {} if body is None else body, **headers)

    def put(self, address: str, body: Any = None, **headers: str) -> Any:
        return self.ask("PUT", address, {} if body is None else body, **headers)


def script_of(person: Person, scope: Scope = Scope.ALL) -> Script:
    made = make_token("a script", scope, days=9, act=Act(by=person, at=now()))
    return Script(made.text)


def problem_of(answer: Any, status: int) -> dict[str, Any]:
    """Give a refusal's problem; each has the members of RFC 9457 and a code."""
    assert answer.status_code == status, answer.content
    assert answer.headers["Content-Type"] == "application/problem+json"
    said: dict[str, Any] = answer.json()
    assert said["status"] == status
    assert said["code"]
    assert {"type", "title", "detail", "errors"} <= said.keys()
    return said


def given(answer: Any, status: int = 200) -> Any:
    assert answer.status_code == status, answer.content
    return answer.json()
