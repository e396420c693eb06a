"""
Every answer is as the description says: requests are made from it, for each role.

An example an operation, role and mode (well written, and not), ten in all, in each
run; as many as ``FEELERBOOK_API_EXAMPLES`` says where somebody wants more:
``FEELERBOOK_API_EXAMPLES=200 python -m pytest tests/api/test_described.py``.
"""

import os
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.cache import cache
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from inventory.api.foundation.sign_in import TokenThrottle
from inventory.compute.roles import Role
from tests.api.asking import script_of
from tests.api.test_operations import OF_BOXES, things_of
from tests.architecture.test_permissions import Club, make_club

EXAMPLES = int(os.environ.get("FEELERBOOK_API_EXAMPLES", "1"))
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    negative_data_rejection,
]
#: What is said of things that are there; the rest is made up.
TAGS = {"/cars/": "car", "/parts/": "tag"}


def real(path: str, club: Club) -> dict[str, Any]:
    """Give the parts of an address by which something is there."""
    found = things_of(club)
    found["tag"] = club.car if "/cars/" in path else club.tag
    if "/pairs/" in path:
        found["tag"] = club.bags.part_set.tag
    return found


@pytest.fixture
def unthrottled(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let a token ask as often as it likes, all on the line of the test."""
    cache.clear()
    monkeypatch.setattr(TokenThrottle, "THROTTLE_RATES", {"token": "1000000/min"})
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


# What is asked of the description is the same on any database; once is enough.
@pytest.mark.sqlite
@pytest.mark.django_db
@pytest.mark.parametrize("role", Role)
def test_every_answer_is_as_described(role: Role, unthrottled: None) -> None:
    club = make_club()
    script = script_of(club.people[role])
    # A WSGI client unpacks nothing.
    says = {"Authorization": f"Bearer {script.text}", "Accept-Encoding": "identity"}
    schema = schemathesis.openapi.from_wsgi(
        "/api/v1/openapi.json", get_wsgi_application(), headers=says
    )
    wrong: list[str] = []
    found: Any
    for found in schema.get_all_operations():
        operation = found.ok()
        if operation.definition.raw["operationId"] in OF_BOXES:
            continue
        for mode in GenerationMode:
            try:
                tried(operation, mode, club, says)
            except (Exception, BaseExceptionGroup) as error:
                causes = getattr(error, "exceptions", (error,))
                said = "; ".join(f"{one}"[:400] for one in causes)
                wrong.append(f"{operation.label}, {mode.name}: {said}")
    assert not wrong, "\n\n".join(wrong)


def tried(operation: Any, mode: GenerationMode, club: Club, says: Any) -> None:
    """Send what is made of one operation's description, and look at the answers."""
    things = real(operation.path, club)

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def sent(case: Any) -> None:
        if mode is GenerationMode.POSITIVE and case.path_parameters:
            for name in case.path_parameters:
                case.path_parameters[name] = things.get(name, 1)
        with transaction.atomic():
            answer = case.call(headers=says)
            transaction.set_rollback(True)
        # What stands for nothing is left out on its way: then nothing wrong is said.
        is_said = case.query or case.path_parameters or operation.body
        # In a form's parts all is text, whatever it was meant to be.
        is_said = is_said and case.media_type != "multipart/form-data"
        checks = CHECKS if is_said else CHECKS[:-1]
        case.validate_response(answer, checks=checks)

    sent()
