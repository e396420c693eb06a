"""A driver's own view: the turn, about how long, the verdict and what to do."""

import datetime as dt
import re

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from inspection.actions.night.entries import not_here
from inspection.actions.race_nights import close_night
from inspection.actions.rulings.held_cars import hold_car
from inspection.actions.rulings.protests import raise_protest
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision, minutes_a_car, minutes_until_turn
from inspection.loaders.night.mine import load_mine
from inspection.models import Entry, RaceNight
from inventory.models import Person
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def night() -> RaceNight:
    return builders.make_night(
        builders.make_edition((builders.rule("1", "tyre_diameter_rear", lower=18),))
    )


@pytest.fixture
def driver() -> Person:
    return builders.make_person()


def page_of(driver: Person) -> str:
    client = Client()
    client.force_login(driver)
    return client.get("/mine").content.decode()


def enter(night: RaceNight, driver: Person) -> Entry:
    return builders.make_entry(night=night, car=builders.make_car(owner=driver))


def measure(entry: Entry, diameter: str, *, at: float = 3) -> None:
    sheet, caliper = builders.make_sheet(entry=entry), builders.make_gauge()
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", diameter, gauge=caliper)
    decision = Decision.PASSED if float(diameter) > 18 else Decision.SENT_BACK
    seal_sheet(sheet.number, decision=decision, act=builders.act(minutes=at))


def test_a_car_takes_the_median_of_tonight_s() -> None:
    assert minutes_a_car([1.0, 9.0]) == pytest.approx(3)
    assert minutes_a_car([1.0, 2.0, 90.0]) == pytest.approx(2)


@given(
    durations=st.lists(st.floats(1, 9), min_size=30, max_size=30),
    blocks=st.integers(1, 4),
    before=st.integers(0, 12),
)
def test_wait_is_near_what_a_queue_gives(
    durations: list[float], blocks: int, before: int
) -> None:
    """Play the queue: it differs from the estimate by what the cars differ."""
    # Cars on the blocks are half through.
    free = [one / 2 for one in durations[:blocks]]
    for duration in durations[blocks : blocks + before]:
        free.sort()
        free[0] += duration
    a_car = minutes_a_car(durations)
    spread = max(durations) - min(durations)
    said = minutes_until_turn(before, a_car=a_car, blocks=blocks)
    rounds = 1 + before // blocks
    assert abs(said - min(free)) <= 1 + rounds * (spread + a_car / 2)


def test_free_blocks_take_the_next_car_at_once() -> None:
    assert minutes_until_turn(0, a_car=3.0, blocks=0) == 0
    assert minutes_until_turn(2, a_car=3.0, blocks=0) == 6


def test_driver_sees_the_place_in_the_queue(night: RaceNight, driver: Person) -> None:
    assert "No car of yours is entered" in page_of(driver)
    others = [builders.make_entry(night=night) for _ in range(3)]
    mine = enter(night, driver)
    page = page_of(driver)
    assert "Place 4 in the queue" in page
    assert "about 9 min" in page
    for other in others:
        not_here(other.pk, act=builders.act(minutes=1))
    page = page_of(driver)
    assert "You are next: bring the car." in page
    assert re.search(rf"<title>\s*{mine.number}:\s+next", page)
    not_here(mine.pk, act=builders.act(minutes=2))
    assert "you were called once and not here" in page_of(driver)


def test_closed_night_calls_nobody(night: RaceNight, driver: Person) -> None:
    enter(night, driver)
    close_night(night, act=builders.act(minutes=1))
    page = page_of(driver)
    assert "The night is closed; the car was not checked." in page
    assert "bring the car" not in page
    assert ": next" not in page
    board = Client()
    board.force_login(builders.make_scrutineer())
    assert "next up" not in board.get("/").content.decode().casefold()


def test_driver_sees_the_verdict_and_what_to_do(
    night: RaceNight, driver: Person
) -> None:
    good, bad = enter(night, driver), enter(night, driver)
    sheet = builders.make_sheet(entry=good)
    assert "It is being measured" in page_of(driver)
    caliper = builders.make_gauge()
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", "19", gauge=caliper)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=3))
    measure(bad, "17.1")
    page = page_of(driver)
    assert "You may start." in page
    assert "Change nothing on it now." in page
    assert "rule 1 Rule 1 (fail)" in page
    assert "What would make it legal" in page
    # Whoever holds the verdict to be wrong finds the way from it.
    assert f'href="/entry/{bad.pk}/protest"' in page
    assert f'href="/entry/{good.pk}/protest"' not in page
    hold_car(good.pk, reason="it won", act=builders.act(minutes=4))
    assert "leave it in parc fermé" in page_of(driver)
    raise_protest(
        good.pk,
        night.classes.get().edition.rules.get(),
        claim="the caliper was not square",
        act=builders.act(builders.make_scrutineer(), minutes=5),
    )
    assert "In question: the chief rules before you start." in page_of(driver)


def test_owner_sees_a_car_that_somebody_else_drives(
    night: RaceNight, driver: Person
) -> None:
    entry = builders.make_entry(night=night, driver=driver)
    for person in (driver, entry.car.owner):
        assert entry.car.name in page_of(person)
    now = builders.NOW + dt.timedelta(minutes=1)
    assert load_mine(builders.make_person(), night, now).cars == ()


def test_page_follows_and_leaves_an_unchanged_one_alone(
    night: RaceNight, driver: Person
) -> None:
    entry = enter(night, driver)
    measure(entry, "19")
    client = Client()
    client.force_login(driver)
    first = client.get("/mine", headers={"HX-Request": "true"})
    tag = first.headers["ETag"]
    assert "<title>" in first.content.decode()
    said = {"HX-Request": "true", "If-None-Match": tag}
    assert client.get("/mine", headers=said).status_code == 304
    hold_car(entry.pk, reason="it won", act=builders.act(minutes=4))
    assert client.get("/mine", headers=said).status_code == 200


def test_without_a_night_the_page_says_that_nothing_is_entered(
    driver: Person,
) -> None:
    assert "No car of yours is entered" in page_of(driver)


def test_way_to_enter_a_car_is_there_until_the_list_closes(
    night: RaceNight, driver: Person
) -> None:
    """Whoever took a car back may enter it again, as the page before said."""
    way = f"/night/{night.pk}/own"
    assert way in page_of(driver)
    enter(night, driver)
    assert way in page_of(driver)
    close_night(night, act=builders.act(minutes=9))
    assert way not in page_of(driver)
