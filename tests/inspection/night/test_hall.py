"""The hall display: no sign-in, numbers and states, one query where nothing is new."""

import re

import pytest
from django.db import connection
from django.db.models import CharField, Value
from django.db.models.functions import Concat
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inspection.actions.night.blocks import add_block
from inspection.actions.night.entries import not_here
from inspection.actions.race_nights import withdraw_entry
from inspection.actions.sheets import start_sheet
from inspection.compute.night import EntryState
from inspection.loaders.night.hall import load_hall
from inspection.models import Entry, RaceClass, RaceNight
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def night() -> RaceNight:
    return builders.make_night()


def in_state(night: RaceNight, state: EntryState, numbers: list[str]) -> None:
    entries = [builders.make_entry(night=night) for _ in numbers]
    Entry.objects.update(number=Concat(Value("x"), "pk", output_field=CharField()))
    for number, entry in zip(numbers, entries, strict=True):
        Entry.objects.filter(pk=entry.pk).update(number=number, state=state)


def test_stranger_sees_who_is_next_and_on_which_block(night: RaceNight) -> None:
    door, window = (add_block(name, act=builders.act()) for name in ("Door", "Window"))
    first, second, third = (builders.make_entry(night=night) for _ in range(3))
    start_sheet(first.pk, block=window, changed=(), act=builders.act())
    hall = load_hall(night)
    assert [(one.number, one.block) for one in hall.on_block] == [
        (first.number, "Window")
    ]
    # The block that is free is the next one's; for the one after there is none yet.
    assert [(one.number, one.block) for one in hall.next_up] == [
        (second.number, door.name),
        (third.number, ""),
    ]
    page = Client().get("/hall").content.decode()
    assert re.search(rf"<b>{first.number}</b>\s*<span>\s*Window\s*</span>", page)
    # Numbers and states: no name of a person or a car.
    assert first.car.name not in page
    assert first.driver.name not in page


def test_classes_are_named_where_several_race(night: RaceNight) -> None:
    builders.make_entry(night=night)
    other = builders.make_entry(night=night)
    assert "Saloon" not in Client().get("/hall").content.decode()
    lorry = RaceClass.objects.create(
        name="Lorry", rulebook=builders.make_class().rulebook
    )
    Entry.objects.filter(pk=other.pk).update(race_class=lorry)
    page = Client().get("/hall").content.decode()
    assert "Saloon" in page
    assert "Lorry" in page


@pytest.mark.parametrize(
    ("numbers", "shown", "more"),
    [
        ([str(n) for n in range(10)], 10, 0),
        ([str(n) for n in range(40)], 8, 32),
        ([str(n) for n in range(100, 105)], 5, 0),
        ([str(n) for n in range(100, 140)], 4, 36),
    ],
)
def test_no_more_numbers_are_shown_than_fit(
    night: RaceNight, numbers: list[str], shown: int, more: int
) -> None:
    in_state(night, EntryState.PASSED, numbers)
    column = load_hall(night).passed
    assert (len(column.numbers), column.more) == (shown, more)


def poll(client: Client, tag: str) -> tuple[int, int]:
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(
            "/hall", headers={"HX-Request": "true", "If-None-Match": tag}
        )
    return answer.status_code, len(asked.captured_queries)


def test_poll_costs_one_query_until_something_moves(night: RaceNight) -> None:
    in_state(night, EntryState.WAITING, [str(n) for n in range(30)])
    client = Client()
    tag = client.get("/hall", headers={"HX-Request": "true"}).headers["ETag"]
    assert poll(client, tag) == (304, 1)
    a, b = night.entries.all()[:2]
    moves = (
        lambda: withdraw_entry(a.pk, reason="flat tyre", act=builders.act()),
        lambda: not_here(b.pk, act=builders.act()),
        lambda: add_block("Door", act=builders.act()),
    )
    for move in moves:
        move()
        assert poll(client, tag)[0] == 200
        tag = client.get("/hall", headers={"HX-Request": "true"}).headers["ETag"]
        assert poll(client, tag) == (304, 1)


def test_display_of_a_club_without_a_night_says_so() -> None:
    assert "as soon as one is set up" in Client().get("/hall").content.decode()
