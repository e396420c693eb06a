"""Entering cars: many at once, one's own, whoever stands at the desk."""

import datetime as dt

import pytest
from django.test import Client

from inspection.actions.cars import lend_car, retire_car
from inspection.actions.night.entries import enter_own_car
from inspection.actions.race_nights import (
    close_night,
    plan_night,
    undo_withdrawal,
    withdraw_entry,
)
from inspection.compute.night import EntryState, next_free_number
from inspection.models import Car, Entry, EntryMove, RaceClass, RaceNight
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow, Person
from tests import builders

pytestmark = pytest.mark.django_db


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def scrutineer() -> Client:
    return client_of(builders.make_scrutineer())


@pytest.fixture
def night() -> RaceNight:
    return builders.make_night()


def next_night(before: RaceNight) -> RaceNight:
    race_class = builders.make_class()
    return plan_night(
        name="The next",
        date=before.date + dt.timedelta(days=7),
        place="",
        editions={race_class: before.classes.get().edition},
        act=builders.act(),
    )


def test_next_free_number_is_the_lowest_that_nobody_has() -> None:
    assert next_free_number(frozenset()) == "1"
    assert next_free_number({"1", "2", "2a", "4", "003"}) == "3"


def test_entries_are_copied_from_the_last_night(
    night: RaceNight, scrutineer: Client
) -> None:
    stays, gone, retired, taken = (builders.make_entry(night=night) for _ in range(4))
    withdraw_entry(gone.pk, reason="flat tyre", act=builders.act())
    Car.objects.filter(pk=retired.car_id).update(retired_at=builders.NOW)
    ahead = next_night(night)
    holder = builders.make_car()
    scrutineer.post(
        f"/night/{ahead.pk}/enter",
        {
            "car": holder.tag,
            "race_class": builders.make_class().pk,
            "number": taken.number,
        },
    )
    address = f"/night/{ahead.pk}/fill"
    offered = scrutineer.get(address).content.decode()
    assert f"the cars of {night.name}, 8 May 2026 (3)" in offered
    answer = scrutineer.post(address, {"source": f"night-{night.pk}"}, follow=True)
    page = answer.content.decode()
    assert "1 car is entered." in page
    assert f"{retired.called} is retired" in page
    assert f"number {taken.number} is taken in Saloon" in page
    copied = ahead.entries.get(car=stays.car)
    assert (copied.driver, copied.number) == (stays.driver, stays.number)
    assert EntryMove.objects.get(entry=copied).to_state == EntryState.WAITING
    twice = scrutineer.post(address, {"source": f"night-{night.pk}"}, follow=True)
    assert "0 cars are entered." in twice.content.decode()
    assert ahead.entries.count() == 2
    assert scrutineer.post(address, {"source": "night-0"}).status_code == 422


def test_all_cars_of_a_class_are_entered_by_whoever_has_them(
    night: RaceNight, scrutineer: Client
) -> None:
    lent, own, retired = (builders.make_car() for _ in range(3))
    friend = builders.make_person()
    lend_car(lent, friend, act=builders.act())
    retire_car(retired, act=builders.act())
    race_class = builders.make_class()
    address = f"/night/{night.pk}/fill"
    assert "all cars of Saloon (2)" in scrutineer.get(address).content.decode()
    scrutineer.post(address, {"source": f"class-{race_class.pk}"})
    drivers = dict(night.entries.values_list("car", "driver"))
    assert drivers == {lent.pk: friend.pk, own.pk: own.owner_id}
    close_night(night, act=builders.act())
    closed = scrutineer.post(address, {"source": f"class-{race_class.pk}"})
    assert "is closed" in closed.content.decode()


def test_empty_club_is_told_that_there_is_nothing_to_enter(
    night: RaceNight, scrutineer: Client
) -> None:
    page = scrutineer.get(f"/night/{night.pk}/fill").content.decode()
    assert "The club has no car of a class that races" in page


def test_member_enters_their_own_and_borrowed_cars_until_the_list_closes(
    night: RaceNight,
) -> None:
    member = builders.make_person()
    browser = client_of(member)
    address = f"/night/{night.pk}/own"
    assert 'href="/cars/new"' in browser.get(address).content.decode()
    own, borrowed = builders.make_car(owner=member), builders.make_car()
    strange = builders.make_car()
    lend_car(borrowed, member, act=builders.act())
    page = browser.get(address).content.decode()
    assert str(own) in page
    assert str(borrowed) in page
    assert str(strange) not in page
    race_class = builders.make_class()
    for car in (own, borrowed):
        browser.post(address, {"car": car.pk, "race_class": race_class.pk})
    assert set(night.entries.values_list("car", flat=True)) == {own.pk, borrowed.pk}
    assert {one.driver for one in night.entries.all()} == {member}
    twice = browser.post(address, {"car": own.pk, "race_class": race_class.pk})
    assert twice.status_code == 422
    assert f"Car {own} is entered in Saloon already: number" in twice.content.decode()
    theirs = browser.post(address, {"car": strange.pk, "race_class": race_class.pk})
    assert theirs.status_code == 422
    with pytest.raises(RefusedError) as refusal:
        enter_own_car(night, strange, race_class=race_class, act=builders.act(member))
    assert refusal.value.code == "not_your_car"
    RaceNight.objects.update(list_closes_at=builders.NOW)
    assert "The list is closed" in browser.get(address).content.decode()
    assert "Enter your car" not in browser.get(f"/night/{night.pk}").content.decode()
    third = builders.make_car(owner=member)
    late = browser.post(address, {"car": third.pk, "race_class": race_class.pk})
    assert late.status_code == 422
    assert not night.entries.filter(car=third).exists()


def test_member_takes_an_own_entry_back_and_enters_it_again(night: RaceNight) -> None:
    member = builders.make_person()
    browser, race_class = client_of(member), builders.make_class()
    car = builders.make_car(owner=member)
    entered = {"car": car.pk, "race_class": race_class.pk}
    browser.post(f"/night/{night.pk}/own", entered)
    entry = night.entries.get()
    back = f"/entry/{entry.pk}/own/back"

    def state() -> str:
        return str(night.entries.get().state)

    assert back in browser.get("/mine").content.decode()
    stranger = client_of(builders.make_person())
    assert "is not yours" in stranger.get(back, follow=True).content.decode()
    assert state() == "waiting"
    assert "Take it back" in browser.get(back).content.decode()
    browser.post(back)
    assert state() == "withdrawn"
    assert "taken back by its driver" in browser.get("/mine").content.decode()
    # Entered again it is the same entry; nothing of it is lost.
    browser.post(f"/night/{night.pk}/own", entered)
    assert state() == "waiting"
    # What the desk withdrew, the desk brings back.
    withdraw_entry(entry.pk, reason="motor gone", act=builders.act())
    assert browser.post(f"/night/{night.pk}/own", entered).status_code == 422
    undo_withdrawal(entry.pk, reason="it runs again", act=builders.act())
    # Once it was on the block, or the list is closed, it is the desk's.
    RaceNight.objects.update(list_closes_at=builders.NOW)
    assert back not in browser.get("/mine").content.decode()
    said = browser.post(back, follow=True).content.decode()
    assert "is closed: the desk withdraws cars" in said
    RaceNight.objects.update(list_closes_at=None)
    builders.make_sheet(entry=entry)
    assert back not in browser.get("/mine").content.decode()
    said = browser.post(back, follow=True).content.decode()
    assert "“on the block” and no entry alone any more" in said
    assert state() == "on block"


def desk(
    browser: Client, night: RaceNight, driver: str, car: str, **said: object
) -> str:
    data = {
        "driver": driver,
        "car": car,
        "race_class": builders.make_class().pk,
        "layout": "sidewinder",
        "front_carrier": "guide",
    }
    answer = browser.post(f"/night/{night.pk}/desk", data | said, follow=True)
    page: str = answer.content.decode()
    return page


def test_guest_is_entered_in_one_form_and_has_no_account(
    night: RaceNight, scrutineer: Client
) -> None:
    builders.make_entry(night=night)
    Entry.objects.update(number="1")
    page = desk(scrutineer, night, "Jo Visitor", "Blue Fox")
    assert "Entered: 2 Blue Fox in Saloon, Jo Visitor drives." in page
    guest = Person.objects.get(name="Jo Visitor")
    assert not guest.has_usable_password()
    assert guest.roles == frozenset()
    car = Car.objects.get(name="Blue Fox")
    assert (car.owner, car.number, car.layout) == (guest, "2", "sidewinder")
    # On the next night the guest and the car are known.
    ahead = next_night(night)
    page = desk(scrutineer, ahead, "jo visitor", "blue fox")
    assert "Entered: 2 Blue Fox in Saloon" in page
    assert Car.objects.filter(name="Blue Fox").count() == 1
    again = desk(scrutineer, ahead, "Jo Visitor", "Blue Fox")
    assert "is entered in Saloon already" in again


def test_desk_gives_the_next_number_where_the_usual_one_is_taken(
    night: RaceNight, scrutineer: Client
) -> None:
    there = builders.make_entry(night=night)
    Entry.objects.update(number="7")
    car = builders.make_car(owner=there.driver)
    Car.objects.filter(pk=car.pk).update(number="7")
    desk(scrutineer, night, there.driver.name, car.name)
    assert night.entries.get(car=car).number == "1"
    taken = desk(scrutineer, night, "Jo Visitor", "Blue Fox", number="7")
    assert "give this car another number" in taken
    # Nothing of what was refused is there.
    assert not Person.objects.filter(name="Jo Visitor").exists()
    strange = desk(scrutineer, night, "Jo Visitor", "Blue Fox", number="7/7")
    assert "is no number of a car" in strange


def test_club_car_is_known_by_its_tag_and_by_nothing_else(
    night: RaceNight, scrutineer: Client
) -> None:
    club_car = builders.make_car()
    desk(scrutineer, night, "Jo Visitor", club_car.called)
    entry = night.entries.get(car=club_car)
    assert entry.driver.name == "Jo Visitor"
    desk(scrutineer, night, "Al Visitor", club_car.name)
    assert Car.objects.filter(name=club_car.name).count() == 2
    long = desk(scrutineer, night, "Jo Visitor", "x" * 61)
    assert "60 signs at most" in long


def test_two_people_of_one_name_are_told_apart(
    night: RaceNight, scrutineer: Client
) -> None:
    first, second = (builders.make_person(name="Jo Same") for _ in range(2))
    page = desk(scrutineer, night, "Jo Same", "Blue Fox")
    assert first.sign_in_name in page
    assert second.sign_in_name in page
    assert "tick that it is somebody new" in page
    desk(scrutineer, night, second.sign_in_name, "Blue Fox")
    assert night.entries.get().driver == second
    desk(scrutineer, night, "Jo Same", "Red Fox", is_new="on")
    assert night.entries.get(car__name="Red Fox").driver not in {first, second}
    assert desk(scrutineer, night, "", "Red Fox").count("This field is required") > 0


def test_driver_with_two_cars_of_one_name_says_which(
    night: RaceNight, scrutineer: Client
) -> None:
    member = builders.make_person()
    cars = [builders.make_car(owner=member) for _ in range(2)]
    Car.objects.update(name="Twin")
    page = desk(scrutineer, night, member.name, "twin")
    assert "has several cars called “twin”" in page
    desk(scrutineer, night, member.name, cars[1].tag)
    assert night.entries.get().car == cars[1]


def test_retired_car_is_not_entered(night: RaceNight, scrutineer: Client) -> None:
    car = builders.make_car()
    retire_car(car, act=builders.act())
    race_class = builders.make_class()
    said = {"car": car.tag, "race_class": race_class.pk}
    assert scrutineer.post(f"/night/{night.pk}/enter", said).status_code == 422
    car.refresh_from_db()
    with pytest.raises(RefusedError) as refusal:
        builders.make_entry(night=night, car=car)
    assert refusal.value.code == "car_retired"


def test_class_left_empty_is_the_car_s_own_where_that_races(
    night: RaceNight, scrutineer: Client
) -> None:
    member = builders.make_person()
    mine, other = builders.make_car(owner=member), builders.make_car()
    client_of(member).post(f"/night/{night.pk}/own", {"car": mine.pk})
    scrutineer.post(f"/night/{night.pk}/enter", {"car": other.tag})
    entered = night.entries.values_list("car", "race_class")
    own_class = builders.make_class()
    assert set(entered) == {(mine.pk, own_class.pk), (other.pk, own_class.pk)}
    elsewhere = builders.make_car()
    elsewhere.race_class = RaceClass.objects.create(
        rulebook=own_class.rulebook, name="Trucks"
    )
    elsewhere.save()
    refused = scrutineer.post(f"/night/{night.pk}/enter", {"car": elsewhere.tag})
    assert refused.status_code == 422
    assert "is of Trucks, which does not race on" in refused.content.decode()


def test_numbers_are_a_night_and_class_s_own(scrutineer: Client) -> None:
    """One number in two classes, and on two nights, is no clash."""
    saloon = builders.make_class()
    edition = builders.make_edition()
    proto = RaceClass.objects.create(name="Prototype", rulebook=saloon.rulebook)
    for name in ("One", "Two"):
        night = plan_night(
            name=name,
            date=builders.NOW.date(),
            place="",
            editions={saloon: edition, proto: edition},
            act=builders.act(),
        )
        for race_class in (saloon, proto):
            desk(
                scrutineer,
                night,
                f"{name} {race_class}",
                "Fox",
                number="7",
                race_class=race_class.pk,
            )
    assert Entry.objects.filter(number="7").count() == 4
    assert AuditRow.objects.filter(event="entry.made").count() == 4
