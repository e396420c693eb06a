"""What a new club has still to do: on Tonight until all of it is done."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inspection.actions.night.blocks import add_block
from inspection.loaders.night.checklist import Step, load_checklist
from inventory.actions.club import name_club
from inventory.compute.measuring.instruments import CheckResult
from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders

pytestmark = pytest.mark.django_db

DOES: list[tuple[Step, Callable[[], object]]] = [
    (Step.CLUB, lambda: name_club(name="Club", place="", act=builders.act())),
    (Step.BLOCKS, lambda: add_block("Window", act=builders.act())),
    (Step.RULEBOOK, builders.make_edition),
    (Step.PEOPLE, builders.make_person),
    (Step.GAUGES, builders.make_gauge),
    (Step.CARS, builders.make_car),
    (Step.NIGHT, builders.make_night),
]


def done(person: Person) -> set[Step]:
    return {one.step for one in load_checklist(person) if one.is_done}


def test_each_step_is_done_by_its_own_deed_and_the_last_ends_the_list() -> None:
    admin = builders.make_admin()
    so_far: set[Step] = set()
    assert done(admin) == so_far
    for step, deed in DOES[:-1]:
        deed()
        so_far.add(step)
        assert done(admin) == so_far
    DOES[-1][1]()
    assert load_checklist(admin) == []


def test_draft_and_failed_gauge_are_begun_not_done() -> None:
    builders.make_edition(published=False)
    builders.make_gauge(checked=CheckResult.FAILED)
    found = {one.step: one for one in load_checklist(builders.make_admin())}
    for step in (Step.RULEBOOK, Step.GAUGES):
        assert (found[step].is_begun, found[step].is_done) == (True, False)
    assert not found[Step.BLOCKS].is_begun


def test_step_of_another_role_says_whom_it_waits_for() -> None:
    keeper = builders.make_person(Role.PARTS_KEEPER)
    client = Client()
    client.force_login(keeper)
    words = client.get("/").content.decode()
    assert 'href="/gauges/usual"' in words
    assert "Waits for: admin, chief scrutineer." in words
    assert 'href="/blocks"' not in words


def test_member_sees_no_list_and_nobody_does_in_a_poll() -> None:
    assert load_checklist(builders.make_person(Role.MEMBER)) == []
    client = Client()
    client.force_login(builders.make_admin())
    assert "Before the first night" in client.get("/").content.decode()
    poll = client.get("/", headers={"HX-Request": "true"})
    assert "Before the first night" not in poll.content.decode()


def test_list_is_one_query_besides_the_roles() -> None:
    admin = builders.make_admin()
    assert admin.roles
    with CaptureQueriesContext(connection) as queries:
        load_checklist(admin)
    assert len(queries) == 1
