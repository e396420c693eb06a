"""
Who may do what: each operation, each role, each scope of a token.

The rows are declared here and the operations are read from the addresses: one without
a row fails, and so does a row without an operation.  Each is asked with its own
example, filled with what there is in a small club.
"""

import re
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.urls import get_resolver, reverse

from inventory.api.foundation.operations import Operation
from inventory.compute.roles import Role
from inventory.compute.tokens import Scope
from tests.api.asking import problem_of, script_of
from tests.architecture.test_permissions import (
    ADMINS,
    ANYONE,
    CHIEF,
    FITTERS,
    GAUGERS,
    KEEPERS,
    RESERVERS,
    SCRUTINEERS,
    SEES_ALL,
    SEES_CARS,
    Club,
    make_club,
)

# Who may what is the same on any database; once is enough.
pytestmark = [pytest.mark.django_db, pytest.mark.sqlite]

Roles = frozenset[Role]


@dataclass(frozen=True)
class Row:
    """Who may ask; ``hides``: for the others it is not there."""

    may: Roles
    hides: bool = False


MATRIX: dict[str, Row] = {
    "who_asks": Row(ANYONE),
    "list_nights": Row(ANYONE),
    "show_night": Row(ANYONE),
    "plan_a_night": Row(CHIEF),
    "change_a_night": Row(CHIEF),
    "open_a_night": Row(CHIEF),
    "close_a_night": Row(CHIEF),
    "close_the_list": Row(CHIEF),
    "call_class_first": Row(SCRUTINEERS),
    "list_blocks": Row(ANYONE),
    "list_classes": Row(ANYONE),
    "list_entries": Row(ANYONE),
    "show_entry": Row(ANYONE),
    "enter_a_car": Row(SCRUTINEERS),
    "enter_an_own_car": Row(ANYONE),
    "put_on_the_block": Row(SCRUTINEERS),
    "take_off_the_block": Row(SCRUTINEERS),
    "withdraw_a_car": Row(SCRUTINEERS),
    "undo_a_withdrawal": Row(SCRUTINEERS),
    "queue_again": Row(SCRUTINEERS),
    "call_in_vain": Row(SCRUTINEERS),
    "reopen_a_car": Row(CHIEF),
    "protest_against": Row(ANYONE),
    "list_sheets": Row(ANYONE),
    "show_sheet": Row(SEES_ALL, hides=True),
    "put_reading": Row(SCRUTINEERS),
    "strike_a_reading": Row(SCRUTINEERS),
    "note_something": Row(SCRUTINEERS),
    "confirm_the_car": Row(SCRUTINEERS),
    "seal_a_sheet": Row(SCRUTINEERS),
    "strike_what_is_doubtful": Row(SCRUTINEERS),
    "rule_on_a_doubt": Row(CHIEF),
    "rule_on_an_edition": Row(CHIEF),
    "show_remedies": Row(SEES_ALL, hides=True),
    "hand_remedy_out": Row(SCRUTINEERS),
    "list_protests": Row(ANYONE),
    "show_protest": Row(SEES_ALL, hides=True),
    "measure_for_protest": Row(SEES_ALL, hides=True),
    "name_a_hearer": Row(ADMINS),
    "rule_on_a_protest": Row(SEES_ALL, hides=True),
    "appeal_against": Row(SEES_ALL, hides=True),
    "list_parts": Row(ANYONE),
    "show_part": Row(ANYONE),
    "take_in_parts": Row(KEEPERS),
    "take_in_own_parts": Row(ANYONE),
    "measure_part": Row(KEEPERS),
    "correct_a_part": Row(KEEPERS),
    "strike_reading_of_part": Row(KEEPERS),
    "reserve_a_part": Row(RESERVERS),
    "release_a_part": Row(RESERVERS),
    "hand_a_part_out": Row(KEEPERS),
    "take_a_part_back": Row(KEEPERS),
    "retire_a_part": Row(KEEPERS),
    "restore_a_part": Row(KEEPERS),
    "share_a_part": Row(ANYONE),
    "list_changes": Row(ANYONE),
    "export_parts_as_csv": Row(ANYONE),
    "export_parts_as_json_lines": Row(ANYONE),
    "export_parts_as_xlsx": Row(ANYONE),
    "list_batches": Row(ANYONE),
    "find_pairs": Row(ANYONE),
    "confirm_pairs": Row(KEEPERS),
    "show_pairing": Row(ANYONE),
    "undo_a_pairing": Row(KEEPERS),
    "list_pairs": Row(ANYONE),
    "show_pair": Row(ANYONE),
    "split_a_pair": Row(KEEPERS),
    "hand_a_pair_out": Row(KEEPERS),
    "take_a_pair_back": Row(KEEPERS),
    "bring_a_file": Row(KEEPERS),
    "show_draft": Row(KEEPERS),
    "drop_a_draft": Row(KEEPERS),
    "take_a_draft": Row(KEEPERS),
    "list_gauges": Row(ANYONE),
    "show_gauge": Row(ANYONE),
    "list_checks": Row(ANYONE),
    "add_a_gauge": Row(GAUGERS),
    "add_a_mode": Row(GAUGERS),
    "change_figures_of": Row(GAUGERS),
    "check_a_gauge": Row(GAUGERS),
    "work_out_a_study": Row(GAUGERS),
    "adopt_a_study": Row(GAUGERS),
    "list_cars": Row(ANYONE),
    "show_car": Row(SEES_CARS, hides=True),
    "register_a_car": Row(ANYONE),
    "change_a_car": Row(SCRUTINEERS, hides=True),
    "confirm_a_car": Row(FITTERS),
    "lend_a_car": Row(SCRUTINEERS, hides=True),
    "take_a_car_back": Row(SCRUTINEERS, hides=True),
    "sell_a_car": Row(SCRUTINEERS, hides=True),
    "retire_a_car": Row(SCRUTINEERS, hides=True),
    "race_a_car_again": Row(SCRUTINEERS, hides=True),
    "store_sizes_of": Row(SEES_CARS, hides=True),
    "put_part_on": Row(FITTERS, hides=True),
    "take_part_off": Row(FITTERS, hides=True),
    "put_pair_onto": Row(FITTERS, hides=True),
    "swap_tyres": Row(FITTERS, hides=True),
    "keep_jig_sheet": Row(SEES_CARS, hides=True),
    "fit_of_car": Row(SEES_CARS, hides=True),
    "cars_for_part": Row(ANYONE),
    "fit_of_numbers": Row(ANYONE),
    "unmarked_gear": Row(ANYONE),
    "work_out_jig": Row(ANYONE),
    "list_rulebooks": Row(ANYONE),
    "show_edition": Row(ANYONE),
    "import_rulebook": Row(CHIEF),
    "try_an_edition": Row(CHIEF),
    "publish_an_edition": Row(CHIEF),
    "discard_an_edition": Row(CHIEF),
    "show_season": Row(ANYONE),
}
QUERIES = {
    "fit_of_car": "?kind=gear",
    "fit_of_numbers": "?layout=in-line&tyre=20&kind=gear",
    "unmarked_gear": "?role=spur&teeth=28&over=15.2",
    "work_out_jig": "?jig_tyre=20&race_tyre=19.5&can_height=15",
    "work_out_a_study": "?method=average%20and%20range&table=1",
}
#: A box has a token of its own: `test_caliper_box.py` asks these.
OF_BOXES = {"ask_for_box", "put_box_reading"}
#: Which of the club's things the parts of an address and the fields of a body name.
DOUBTS = {"strike_what_is_doubtful", "rule_on_a_doubt"}


@dataclass(frozen=True)
class Asked:
    """One operation with its address in the club and the body of its example."""

    method: str
    address: str
    operation: Operation
    body: Any


def operations() -> Iterator[tuple[str, str, str, Operation]]:
    """Give each operation with its method, its route and its address."""
    found: Any = get_resolver().url_patterns
    (api,) = (one for one in found if getattr(one, "namespace", "") == "api")
    for pattern in api.url_patterns:
        view = getattr(pattern.callback, "cls", None)
        for method, operation in getattr(view, "operations", {}).items():
            if operation.name in OF_BOXES:
                continue
            yield method, pattern.name, str(pattern.pattern), operation


def things_of(club: Club) -> dict[str, Any]:
    return {
        "night_id": club.night_id,
        "entry_id": club.entry_id,
        "number": club.number,
        "reading_id": uuid.uuid4(),
        "check_id": club.failed_check,
        "judged_id": club.judged_id,
        "protest_id": club.protest_id,
        "which": str(club.bags.batch.pk),
        "pairing_id": club.bags.pairing.pk,
        "draft_id": club.bags.draft.pk,
        "gauge_id": club.gauge_mode.gauge_id,
        "mode_id": club.gauge_mode.pk,
        "edition_id": club.draft.pk,
        "place": "rear-left",
    }


def filled(example: Mapping[str, Any] | None, club: Club) -> Any:
    """Give an example's body with the keys and tags that there are."""
    real = {"car": club.car, "block": club.block_id, "gauge": club.gauge_mode.pk}
    real |= {"person": club.owner.pk, "tags": [club.tag], "tag": club.tag}
    return {name: real.get(name, value) for name, value in (example or {}).items()}


def asked_of(club: Club) -> Iterator[Asked]:
    things = things_of(club)
    for method, route, where, operation in operations():
        names = re.findall(r"<\w+:(\w+)>", where)
        tags = {"cars": club.car, "parts": club.tag, "pairs": club.bags.part_set.tag}
        tag = tags.get(where.partition("/")[0])
        ids = {name: things.get(name, tag) for name in names}
        if operation.name in DOUBTS:
            ids["number"] = club.doubtful
        address = reverse(f"api:{route}", kwargs=ids)
        address += QUERIES.get(operation.name, "")
        body = filled(operation.example, club) if operation.takes else None
        yield Asked(method.upper(), address, operation, body)


def test_each_operation_has_a_row_and_a_name_of_its_own() -> None:
    found = [operation.name for *_, operation in operations()]
    assert sorted(found) == sorted(MATRIX)
    assert all(operation.words for *_, operation in operations())


@pytest.fixture(autouse=True)
def unthrottled() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


@pytest.mark.parametrize("role", Role)
def test_a_role_gets_what_its_rows_say(role: Role) -> None:
    club = make_club()
    script = script_of(club.people[role])
    wrong = []
    for one in asked_of(club):
        row = MATRIX[one.operation.name]
        with transaction.atomic():
            answer = script.ask(one.method, one.address, one.body)
            transaction.set_rollback(True)
        status = answer.status_code
        if role in row.may:
            # Its example is written as the description says: nothing is malformed.
            met = status not in {400, 401, 403, 404, 405, 500} or (
                one.operation.is_upload and status == HTTPStatus.BAD_REQUEST
            )
        else:
            met = status == (404 if row.hides else 403)
        if not met:
            wrong.append((one.operation.name, status, answer.content[:200]))
        if status >= HTTPStatus.BAD_REQUEST:
            problem_of(answer, status)
    assert not wrong


@pytest.mark.parametrize("scope", Scope)
def test_a_token_does_no_more_than_its_scope(scope: Scope) -> None:
    club = make_club()
    person = club.people[Role.CHIEF_SCRUTINEER]
    made = script_of(person, scope if scope is not Scope.PARTS else Scope.READINGS)
    person.tokens.update(scope=scope)
    for one in asked_of(club):
        if scope.covers(one.operation.scope):
            continue
        with transaction.atomic():
            answer = made.ask(one.method, one.address, one.body)
            transaction.set_rollback(True)
        assert problem_of(answer, 403)["code"] == "scope_too_small"
