"""Nights to live in: their list, which one is tonight, changing a plan, the turn."""

import datetime as dt

import pytest
from django.test import Client

from inspection.actions.night.entries import not_here
from inspection.actions.night.plans import (
    NightPlan,
    call_first,
    change_night,
    close_list,
)
from inspection.actions.race_nights import (
    close_night,
    enter_car,
    open_night,
    plan_night,
    withdraw_entry,
)
from inspection.loaders.night.board import load_board, next_waiting, night_tonight
from inspection.models import Edition, RaceClass, RaceNight
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)


@pytest.fixture
def edition() -> Edition:
    return builders.make_edition()


@pytest.fixture
def chief() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    return client


def planned(edition: Edition, name: str, date: dt.date) -> RaceNight:
    return plan_night(
        name=name,
        date=date,
        place="The hall",
        editions={builders.make_class(): edition},
        act=builders.act(),
    )


def shut(night: RaceNight) -> RaceNight:
    return close_night(open_night(night, act=builders.act()), act=builders.act())


def test_tonight_is_the_open_one_then_todays_then_the_next_then_the_last(
    edition: Edition,
) -> None:
    today = builders.NOW.date()
    assert night_tonight(today) is None
    last = shut(planned(edition, "Last", today - 7 * DAY))
    forgotten = planned(edition, "Forgotten", today - 20 * DAY)
    assert night_tonight(today) == last
    later = planned(edition, "January", today + 200 * DAY)
    assert night_tonight(today) == later
    soon = planned(edition, "Next week", today + 7 * DAY)
    assert night_tonight(today) == soon
    over = shut(planned(edition, "Juniors", today))
    assert night_tonight(today) == over
    tonight = planned(edition, "Round 1", today)
    assert night_tonight(today) == tonight
    open_night(tonight, act=builders.act())
    # After midnight the open one is still tonight's.
    planned(edition, "Tomorrow", today + DAY)
    assert night_tonight(today + DAY) == tonight
    assert forgotten.opened_at is None


def test_list_says_which_nights_are_open_planned_and_past(
    edition: Edition, chief: Client
) -> None:
    assert "No night yet" in chief.get("/nights").content.decode()
    today = builders.NOW.date()
    past = shut(planned(edition, "Past one", today - DAY))
    night = open_night(planned(edition, "Open one", today), act=builders.act())
    ahead = planned(edition, "Planned one", today + DAY)
    builders.make_entry(night=night)
    gone = builders.make_entry(night=night)
    withdraw_entry(gone.pk, reason="flat tyre", act=builders.act())
    page = chief.get("/nights").content.decode()
    places = [page.index(f">{one.name}</a>") for one in (night, ahead, past)]
    assert places == sorted(places)
    assert "1 car\n<" in page
    assert f'href="/night/{past.pk}/list"' in page
    assert f'href="/night/{ahead.pk}/edit"' in page
    # A closed night is there to be looked at, under its own address.
    assert "Past one" in chief.get(f"/night/{past.pk}").content.decode()
    assert chief.get(f"/night/{past.pk + 99}").status_code == 404


def test_same_night_twice_is_a_sentence_and_a_way_on(
    edition: Edition, chief: Client
) -> None:
    race_class = builders.make_class()
    said = {
        "name": "Round 1",
        "date": "2026-05-08",
        f"class_{race_class.pk}": edition.pk,
    }
    chief.post("/night/new", said)
    first = RaceNight.objects.get()
    for name in ("Round 1", "round 1"):
        again = chief.post("/night/new", said | {"name": name})
        assert again.status_code == 422
        page = again.content.decode()
        assert f"“{name}” on 8 May 2026 is set up already" in page
        assert f'href="/night/{first.pk}"' in page
    assert RaceNight.objects.count() == 1
    # Another name on that day, and the same name on another, are other nights.
    chief.post("/night/new", said | {"name": "Round 2"})
    chief.post("/night/new", said | {"date": "2026-05-09"})
    assert RaceNight.objects.count() == 3


def test_planned_night_is_changed_until_it_opens(
    edition: Edition, chief: Client
) -> None:
    saloon = builders.make_class()
    other = RaceClass.objects.create(name="Prototype", rulebook=saloon.rulebook)
    night = planned(edition, "Round 1", builders.NOW.date())
    call_first(night, saloon, act=builders.act())
    address = f"/night/{night.pk}/edit"
    page = chief.get(address).content.decode()
    assert 'value="Round 1"' in page
    assert 'value="2026-05-08"' in page
    said = {
        "name": "Round 1a",
        "date": "2026-05-15",
        "place": "The barn",
        "list_closes_at": "2026-05-15T18:30",
        f"class_{other.pk}": edition.pk,
    }
    assert chief.post(address, said)["Location"] == f"/night/{night.pk}"
    night.refresh_from_db()
    assert (night.name, night.date, night.place) == (
        "Round 1a",
        dt.date(2026, 5, 15),
        "The barn",
    )
    assert night.list_closes_at is not None
    assert night.called_first is None
    assert [one.race_class for one in night.classes.all()] == [other]
    assert "18:30" in chief.get(address).content.decode()
    planned(edition, "Round 2", dt.date(2026, 5, 15))
    twice = chief.post(address, said | {"name": "Round 2"})
    assert twice.status_code == 422
    assert "Open Round 2" in twice.content.decode()
    car = builders.make_car()
    entry = enter_car(
        night, car, race_class=other, driver=car.owner, act=builders.act()
    )
    without = {f"class_{saloon.pk}": edition.pk, f"class_{other.pk}": ""}
    left_out = chief.post(address, said | without).content.decode()
    assert f"Cars are entered in Prototype, number {entry.number} for one" in left_out
    open_night(night, act=builders.act())
    opened = chief.post(address, said)
    assert opened.status_code == 422
    assert "has been opened" in opened.content.decode()


def test_plan_without_a_class_is_refused(edition: Edition) -> None:
    night = planned(edition, "Round 1", builders.NOW.date())
    plan = NightPlan(name="Round 1", date=night.date, place="", editions={})
    with pytest.raises(RefusedError) as refusal:
        change_night(night, plan, act=builders.act())
    assert refusal.value.code == "no_class"


def test_list_is_closed_at_once_and_late_entries_say_so(
    edition: Edition, chief: Client
) -> None:
    night = builders.make_night(edition)
    early = builders.make_entry(night=night)
    assert not early.is_late
    chief.post(f"/night/{night.pk}/end")
    night.refresh_from_db()
    assert night.list_closes_at is not None
    again = chief.post(f"/night/{night.pk}/end", follow=True)
    assert "The list is closed already." in again.content.decode()
    car = builders.make_car()
    late = chief.post(
        f"/night/{night.pk}/enter",
        {"car": car.tag, "race_class": builders.make_class().pk},
    )
    assert late.status_code == 302
    assert night.entries.get(car=car).is_late
    assert chief.get(f"/night/{night.pk}").content.decode().count("late entry") == 1
    with pytest.raises(RefusedError):
        close_list(night, act=builders.act(minutes=10**7))


def test_class_that_is_called_first_comes_before_the_others(chief: Client) -> None:
    saloon = builders.make_class()
    edition = builders.make_edition()
    proto = RaceClass.objects.create(name="Prototype", rulebook=saloon.rulebook)
    night = plan_night(
        name="Two",
        date=builders.NOW.date(),
        place="",
        editions={saloon: edition, proto: edition},
        act=builders.act(),
    )
    open_night(night, act=builders.act())
    cars = [builders.make_car() for _ in range(3)]
    a, b, c = (
        enter_car(
            night,
            car,
            race_class=race_class,
            driver=car.owner,
            act=builders.act(minutes=minute),
        )
        for minute, (car, race_class) in enumerate(
            zip(cars, (saloon, proto, saloon), strict=True)
        )
    )
    assert next_waiting(night.pk) == a
    page = chief.get(f"/night/{night.pk}").content.decode()
    assert "Prototype first" in page
    chief.post(f"/night/{night.pk}/first", {"race_class": proto.pk})
    assert next_waiting(night.pk) == b
    board = load_board(RaceNight.objects.get(), builders.NOW)
    waiting = [row.entry for group in board.groups for row in group.rows]
    assert waiting == [b, a, c]
    assert "Prototype is called first" in chief.get("/").content.decode()
    chief.post(f"/night/{night.pk}/first", {"race_class": ""})
    assert next_waiting(night.pk) == a
    chief.post(f"/night/{night.pk}/first", {"race_class": "x"})
    elsewhere = RaceClass.objects.create(name="Lorry", rulebook=saloon.rulebook)
    refused = chief.post(
        f"/night/{night.pk}/first", {"race_class": elsewhere.pk}, follow=True
    )
    assert "Lorry does not race on Two" in refused.content.decode()
    close_night(night, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        call_first(night, saloon, act=builders.act())
    assert refusal.value.code == "night_closed"


def test_car_that_is_not_here_is_the_last_and_its_calls_are_noted(
    edition: Edition, chief: Client
) -> None:
    night = builders.make_night(edition)
    a, b = builders.make_entry(night=night), builders.make_entry(night=night)
    assert next_waiting(night.pk) == a
    chief.post(f"/entry/{a.pk}/not-here")
    assert next_waiting(night.pk) == b
    assert "called once, not here" in chief.get("/").content.decode()
    chief.post(f"/entry/{b.pk}/not-here")
    assert next_waiting(night.pk) == a
    chief.post(f"/entry/{a.pk}/not-here")
    assert next_waiting(night.pk) == b
    assert "called 2 times, not here" in chief.get("/").content.decode()
    assert AuditRow.objects.filter(event="entry.called").count() == 3
    withdraw_entry(a.pk, reason="went home", act=builders.act(minutes=1))
    refused = chief.post(f"/entry/{a.pk}/not-here", follow=True)
    assert "“withdrawn”, not waiting" in refused.content.decode()
    close_night(night, act=builders.act(minutes=2))
    with pytest.raises(RefusedError) as refusal:
        not_here(b.pk, act=builders.act(minutes=3))
    assert refusal.value.code == "night_not_open"
