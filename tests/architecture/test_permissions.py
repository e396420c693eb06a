"""
Who may open which address: every route, every role, GET and POST.

The rows are declared here and the addresses are read from the URL
configuration: a route without a row fails, and so does a row without a route.
Goals S16 and S17.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http import HTTPStatus

import pytest
from django.conf import settings
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from inspection.models import Edition
from inventory.compute.roles import Role
from inventory.models import GaugeMode, Person
from tests.builders import (
    make_edition,
    make_gauge,
    make_part,
    make_person,
    make_sheet,
)
from tests.inventory.bags import Bags, make_bags

ANYONE = frozenset(Role)
SCRUTINEERS = frozenset({Role.SCRUTINEER, Role.CHIEF_SCRUTINEER})
CHIEF = frozenset({Role.CHIEF_SCRUTINEER})
KEEPERS = frozenset({Role.PARTS_KEEPER})
ADMINS = frozenset({Role.ADMIN})
GAUGERS = SCRUTINEERS | KEEPERS
RESERVERS = frozenset(
    {
        Role.MEMBER,
        Role.SCRUTINEER,
        Role.CHIEF_SCRUTINEER,
        Role.PARTS_KEEPER,
    }
)
#: Those who see every car and sheet; a member sees only their own.
SEES_ALL = frozenset({Role.SCRUTINEER, Role.CHIEF_SCRUTINEER, Role.ADMIN})


@dataclass(frozen=True)
class Club:
    """A small club: one car on the block, and a person of each role."""

    people: dict[Role, Person]
    owner: Person
    entry_id: int
    night_id: int
    number: str
    car: str
    tag: str
    gauge_mode: GaugeMode
    bags: Bags
    draft: Edition


@dataclass(frozen=True)
class Row:
    """Who may GET and POST an address; None: the method is not offered."""

    get: frozenset[Role] | None = None
    post: frozenset[Role] | None = None
    args: Callable[[Club], list[object]] = lambda _: []
    hides: bool = field(default=False)


def sheet(club: Club) -> list[object]:
    return [club.number]


def entry(club: Club) -> list[object]:
    return [club.entry_id]


def night(club: Club) -> list[object]:
    return [club.night_id]


def car(club: Club) -> list[object]:
    return [club.car]


def part(club: Club) -> list[object]:
    return [club.tag]


def gauge(club: Club) -> list[object]:
    return [club.gauge_mode.gauge_id]


def gauge_mode(club: Club) -> list[object]:
    return [club.gauge_mode.pk]


def kind(club: Club) -> list[object]:
    return ["tyre"]


def reading(club: Club) -> list[object]:
    return [club.number, 1]


def draft(club: Club) -> list[object]:
    return [club.draft.pk]


def two_editions(club: Club) -> list[object]:
    return [club.draft.pk, club.draft.pk]


def rulebook(club: Club) -> list[object]:
    return [club.draft.rulebook_id]


def rule(club: Club) -> list[object]:
    return [club.draft.rules.values_list("pk", flat=True)[0]]


def batch(club: Club) -> list[object]:
    return [str(club.bags.batch.pk)]


def bench(club: Club) -> list[object]:
    return [club.bags.bench.pk]


def file_draft(club: Club) -> list[object]:
    return [club.bags.draft.pk]


def pairs_file(club: Club) -> list[object]:
    return [str(club.bags.batch.pk), "csv"]


def pairing(club: Club) -> list[object]:
    return [club.bags.pairing.pk]


def pair(club: Club) -> list[object]:
    return [club.bags.part_set.tag]


def draw(club: Club) -> list[object]:
    return [club.bags.draw.pk]


MATRIX: dict[str, Row] = {
    "inspection:tonight": Row(get=ANYONE),
    "inspection:put_on_block": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=entry),
    "inspection:queue_again": Row(post=SCRUTINEERS, args=entry),
    "inspection:withdraw": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=entry),
    "inspection:reopen": Row(get=CHIEF, post=CHIEF, args=entry),
    "inspection:sheet": Row(get=SEES_ALL, args=sheet, hides=True),
    "inspection:block": Row(get=SCRUTINEERS, args=sheet),
    "inspection:add_reading": Row(post=SCRUTINEERS, args=sheet),
    "inspection:strike": Row(post=SCRUTINEERS, args=reading),
    "inspection:seal": Row(post=SCRUTINEERS, args=sheet),
    "inspection:reserve_fit": Row(post=RESERVERS),
    "inspection:cars_for_part": Row(get=ANYONE, args=part),
    "inspection:save_jig": Row(post=ANYONE),
    "inspection:room": Row(get=SEES_ALL, post=SEES_ALL, args=car, hides=True),
    "inspection:remedies": Row(get=SEES_ALL, args=sheet, hides=True),
    "inspection:hand_out_remedy": Row(post=SCRUTINEERS, args=sheet),
    "inspection:gearing": Row(get=SEES_ALL, args=car, hides=True),
    "inspection:cars": Row(get=ANYONE),
    "inspection:car": Row(get=SEES_ALL, args=car, hides=True),
    "inventory:parts": Row(get=ANYONE),
    "inventory:labels": Row(get=ANYONE),
    "inventory:new_part": Row(get=KEEPERS, post=KEEPERS, args=kind),
    "inventory:part": Row(get=ANYONE, args=part),
    "inventory:reserve": Row(post=RESERVERS, args=part),
    "inventory:release": Row(post=RESERVERS, args=part),
    "inventory:hand_out": Row(post=KEEPERS, args=part),
    "inventory:take_back": Row(post=KEEPERS, args=part),
    "inventory:retire": Row(post=KEEPERS, args=part),
    "inventory:correct": Row(post=KEEPERS, args=part),
    "inventory:measure": Row(post=KEEPERS, args=part),
    "inventory:pairing": Row(get=ANYONE),
    "inventory:new_batch": Row(get=KEEPERS),
    "inventory:upload_batch": Row(post=KEEPERS),
    "inventory:paste_batch": Row(post=KEEPERS),
    "inventory:start_bench": Row(post=KEEPERS),
    "inventory:draft": Row(get=KEEPERS, args=file_draft),
    "inventory:read_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:draft_columns": Row(post=KEEPERS, args=file_draft),
    "inventory:draft_faults": Row(get=KEEPERS, args=file_draft),
    "inventory:take_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:drop_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:bench": Row(get=KEEPERS, post=KEEPERS, args=bench),
    "inventory:drop_last": Row(post=KEEPERS, args=bench),
    "inventory:batch": Row(get=ANYONE, args=batch),
    "inventory:confirm_pairs": Row(post=KEEPERS, args=batch),
    "inventory:export_pairs": Row(get=ANYONE, args=pairs_file),
    "inventory:confirmed": Row(get=ANYONE, args=pairing),
    "inventory:undo_pairs": Row(post=KEEPERS, args=pairing),
    "inventory:pairs": Row(get=ANYONE),
    "inventory:pair_labels": Row(get=ANYONE),
    "inventory:pair": Row(get=ANYONE, args=pair),
    "inventory:split_pair": Row(post=KEEPERS, args=pair),
    "inventory:hand_out_pair": Row(post=KEEPERS, args=pair),
    "inventory:take_back_pair": Row(post=KEEPERS, args=pair),
    "inventory:draws": Row(get=ANYONE),
    "inventory:new_draw": Row(get=KEEPERS, post=KEEPERS),
    "inventory:draw": Row(get=ANYONE, args=draw),
    "inventory:hand_out_draw": Row(post=KEEPERS, args=draw),
    "inventory:take_back_draw": Row(post=KEEPERS, args=draw),
    "inventory:gauges": Row(get=ANYONE),
    "inventory:new_gauge": Row(get=GAUGERS, post=GAUGERS),
    "inventory:gauge": Row(get=ANYONE, args=gauge),
    "inventory:check": Row(get=GAUGERS, post=GAUGERS, args=gauge_mode),
    "inventory:study": Row(get=GAUGERS, post=GAUGERS, args=gauge_mode),
    "inventory:adopt": Row(post=GAUGERS, args=gauge_mode),
    "inspection:new_night": Row(get=CHIEF, post=CHIEF),
    "inspection:open_night": Row(post=CHIEF, args=night),
    "inspection:close_night": Row(get=CHIEF, post=CHIEF, args=night),
    "inspection:enter_car": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=night),
    "inspection:new_car": Row(get=ANYONE, post=ANYONE),
    "inspection:geometry": Row(get=SEES_ALL, post=SEES_ALL, args=car, hides=True),
    "inventory:people": Row(get=ADMINS),
    "inventory:new_person": Row(get=ADMINS, post=ADMINS),
    "inspection:rulebooks": Row(get=ANYONE),
    "inspection:new_rulebook": Row(get=CHIEF, post=CHIEF),
    "inspection:import_rulebook": Row(get=CHIEF, post=CHIEF),
    "inspection:rulebook_schema": Row(get=ANYONE),
    "inspection:quantity": Row(get=ANYONE),
    "inspection:add_class": Row(post=CHIEF, args=rulebook),
    "inspection:edition": Row(get=ANYONE, args=draft),
    "inspection:edition_file": Row(get=ANYONE, args=draft),
    "inspection:edition_settings": Row(get=CHIEF, post=CHIEF, args=draft),
    "inspection:publish": Row(get=CHIEF, post=CHIEF, args=draft),
    "inspection:discard": Row(post=CHIEF, args=draft),
    "inspection:new_draft": Row(post=CHIEF, args=draft),
    "inspection:side_by_side": Row(get=ANYONE, args=two_editions),
    "inspection:trial": Row(get=CHIEF, args=draft),
    "inspection:new_rule": Row(get=CHIEF, post=CHIEF, args=draft),
    "inspection:rule": Row(get=CHIEF, post=CHIEF, args=rule),
    "inspection:move_rule": Row(post=CHIEF, args=rule),
    "inspection:remove_rule": Row(post=CHIEF, args=rule),
    "inspection:limit_trial": Row(get=CHIEF, args=rule),
    "inspection:keep_limit": Row(post=CHIEF, args=rule),
    "inspection:season": Row(get=ANYONE),
    "sign_out": Row(post=ANYONE),
    "password_change": Row(get=ANYONE, post=ANYONE),
    "password_changed": Row(get=ANYONE),
}
REFUSED = {HTTPStatus.FORBIDDEN, HTTPStatus.NOT_FOUND, HTTPStatus.METHOD_NOT_ALLOWED}


def routes(
    patterns: list[URLPattern | URLResolver] | None = None, namespace: str = ""
) -> Iterator[str]:
    for one in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(one, URLResolver):
            inside = f"{namespace}{one.namespace}:" if one.namespace else namespace
            yield from routes(one.url_patterns, inside)
        elif one.name:
            yield f"{namespace}{one.name}"


@pytest.fixture
def club(db: None) -> Club:
    people = {role: make_person(role) for role in Role}
    record = make_sheet(by=people[Role.SCRUTINEER])
    return Club(
        people=people,
        owner=record.entry.car.owner,
        entry_id=record.entry_id,
        night_id=record.entry.night_id,
        number=record.number,
        car=record.entry.car.number,
        tag=make_part().tag,
        gauge_mode=make_gauge(),
        bags=make_bags(),
        draft=make_edition(published=False),
    )


def test_matrix_has_a_row_for_every_route_and_no_other() -> None:
    found = set(routes())
    assert found - settings.PUBLIC_ROUTES == set(MATRIX)
    assert len(settings.PUBLIC_ROUTES) <= 8


def ask(client: Client, method: str, address: str) -> HttpResponse:
    """Ask once, and take back what the answer wrote."""
    with transaction.atomic():
        answer: HttpResponse = getattr(client, method)(address)
        transaction.set_rollback(True)
    return answer


def asked_of(club: Club) -> Iterator[tuple[str, Row, str, str]]:
    """Give each route's name and row, a method and the address."""
    for name, row in MATRIX.items():
        for method in ("get", "post"):
            yield name, row, method, reverse(name, args=row.args(club))


def test_stranger_is_sent_to_sign_in(club: Club) -> None:
    wrong = []
    for name, _, method, address in asked_of(club):
        answer = ask(Client(), method, address)
        sent = answer.headers.get("Location", "").startswith(reverse("sign_in"))
        if answer.status_code != HTTPStatus.FOUND or not sent:
            wrong.append((name, method, answer.status_code))
    assert not wrong


def expected(row: Row, method: str, role: Role) -> HTTPStatus | None:
    """Give the refusal that a role meets, or None where it is let in."""
    allowed = row.get if method == "get" else row.post
    if allowed is None:
        return HTTPStatus.METHOD_NOT_ALLOWED
    if role in allowed:
        return None
    # What a person may not know of is not there for them.
    return HTTPStatus.NOT_FOUND if row.hides else HTTPStatus.FORBIDDEN


@pytest.mark.parametrize("role", Role)
def test_role_gets_what_its_rows_say(club: Club, role: Role) -> None:
    signed_in = Client()
    signed_in.force_login(club.people[role])
    wrong = []
    for name, row, method, address in asked_of(club):
        # A client of its own: signing out is one of the routes.
        client = Client()
        client.cookies.load(signed_in.cookies)
        status = ask(client, method, address).status_code
        refusal = expected(row, method, role)
        met = status not in REFUSED if refusal is None else status == refusal
        if not met:
            wrong.append((name, method, status, refusal))
    assert not wrong


@pytest.mark.parametrize("name", ["inspection:sheet", "inspection:car"])
def test_owner_sees_what_is_theirs(club: Club, name: str) -> None:
    client = Client()
    client.force_login(club.owner)
    answer = client.get(reverse(name, args=MATRIX[name].args(club)))
    assert answer.status_code == HTTPStatus.OK


def test_every_view_of_the_apps_says_whom_it_is_for() -> None:
    def views(patterns: list[URLPattern | URLResolver]) -> Iterator[tuple[str, object]]:
        for one in patterns:
            if isinstance(one, URLResolver):
                yield from views(one.url_patterns)
            else:
                yield str(one.name), one.callback

    own = [
        (name, view)
        for name, view in views(get_resolver().url_patterns)
        if str(getattr(view, "__module__", "")).startswith(("inspection", "inventory"))
    ]
    assert own
    assert not [name for name, view in own if not hasattr(view, "allowed_roles")]
