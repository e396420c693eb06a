"""A car through the years: said anew, lent, sold, retired; cars in turn."""

import re

import pytest
from django.test import Client

from inspection.actions.cars import CarFacts, change_car, lend_car
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.loaders.cars.search import cars_in_turn
from inspection.models import Car
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow, Person
from tests import builders

pytestmark = pytest.mark.django_db

FACTS = {
    "number": "12",
    "name": "Grey Fox",
    "layout": "sidewinder",
    "front_carrier": "guide",
}


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def car() -> Car:
    return builders.make_car()


@pytest.fixture
def owner(car: Car) -> Client:
    return client_of(car.owner)


def test_owner_says_anew_what_a_car_is(car: Car, owner: Client) -> None:
    address = f"/cars/{car.tag}/edit"
    assert f'value="{car.name}"' in owner.get(address).content.decode()
    said = FACTS | {"race_class": car.race_class_id}
    assert owner.post(address, said)["Location"] == f"/cars/{car.tag}"
    car.refresh_from_db()
    assert (car.number, car.name, car.layout) == ("12", "Grey Fox", "sidewinder")
    assert owner.post(address, said | {"number": "1/2"}).status_code == 422


def test_driver_or_admin_who_sees_a_car_does_not_change_it(car: Car) -> None:
    for person in (builders.make_person(Role.ADMIN), builders.make_person()):
        lend_car(car, person, act=builders.act())
        browser = client_of(person)
        page = browser.get(f"/cars/{car.tag}").content.decode()
        assert "Lend, sell, retire" not in page
        assert f"lent to {person}" in page
        assert browser.get(f"/cars/{car.tag}/edit").status_code == 404


def test_car_under_inspection_stays_as_it_is(car: Car, owner: Client) -> None:
    builders.make_sheet(entry=builders.make_entry(car=car))
    said = FACTS | {"race_class": car.race_class_id}
    refused = owner.post(f"/cars/{car.tag}/edit", said)
    assert "is under inspection" in refused.content.decode()
    facts = CarFacts(
        number="12",
        name="Grey Fox",
        owner=car.owner,
        race_class=car.race_class,
        layout=Layout.ANGLEWINDER,
        front_carrier=FrontCarrier(car.front_carrier),
    )
    with pytest.raises(RefusedError) as refusal:
        change_car(car, facts, act=builders.act(builders.make_scrutineer()))
    assert refusal.value.code == "on_the_block"


def test_car_is_lent_and_comes_back(car: Car, owner: Client) -> None:
    friend = builders.make_person()
    address = f"/cars/{car.tag}"
    assert client_of(friend).get(address).status_code == 404
    to_self = owner.post(f"{address}/lend", {"lend-person": car.owner.name})
    assert "own; name whoever borrows it" in to_self.content.decode()
    nobody = owner.post(f"{address}/lend", {"lend-person": "Nobody Known"})
    assert nobody.status_code == 422
    assert "Nobody here is called “Nobody Known”" in nobody.content.decode()
    owner.post(f"{address}/lend", {"lend-person": friend.name})
    car.refresh_from_db()
    assert car.usual_driver == friend
    assert client_of(friend).get(address).status_code == 200
    assert "Take it back" in owner.get(f"{address}/hands").content.decode()
    owner.post(f"{address}/back")
    car.refresh_from_db()
    assert car.usual_driver == car.owner


def test_car_is_sold_and_its_loan_ends(car: Car, owner: Client) -> None:
    buyer, friend = builders.make_person(), builders.make_person()
    lend_car(car, friend, act=builders.act())
    entry = builders.make_entry(car=car)
    address = f"/cars/{car.tag}/sell"
    tonight = owner.post(address, {"sell-person": buyer.name})
    assert f"entered on {entry.night}, which is open" in tonight.content.decode()
    builders.make_admin()
    client_of(builders.make_person(Role.CHIEF_SCRUTINEER)).post(
        f"/entry/{entry.pk}/withdraw", {"reason": "it is being sold"}
    )
    same = owner.post(address, {"sell-person": car.owner.name})
    assert "already" in same.content.decode()
    sold = owner.post(address, {"sell-person": buyer.name}, follow=True)
    assert f"is {buyer}’s now" in sold.content.decode()
    car.refresh_from_db()
    assert (car.owner, car.lent_to) == (buyer, None)
    assert AuditRow.objects.get(event="car.sold").detail["after"] == buyer.pk
    assert owner.get(f"/cars/{car.tag}/hands").status_code == 404


def test_car_is_retired_and_races_again(car: Car, owner: Client) -> None:
    entry = builders.make_entry(car=car)
    address = f"/cars/{car.tag}"
    page = owner.post(f"{address}/retire", follow=True).content.decode()
    assert "withdraw it first" in page
    not_yet = owner.post(f"{address}/race", follow=True).content.decode()
    assert "is not retired" in not_yet
    entry.night.entries.update(state="withdrawn")
    owner.post(f"{address}/retire")
    assert "retired since" in owner.get(address).content.decode()
    assert re.search(r"retired\s*</span>", owner.get("/cars").content.decode())
    twice = owner.post(f"{address}/retire", follow=True).content.decode()
    assert "is retired already" in twice
    with pytest.raises(RefusedError) as refusal:
        lend_car(car, builders.make_person(), act=builders.act())
    assert refusal.value.code == "car_retired"
    owner.post(f"{address}/race")
    car.refresh_from_db()
    assert car.retired_at is None


def test_cars_stand_in_the_order_of_their_numbers() -> None:
    said = ["10", "9", "2", "2a", "100", "A1", "07"]
    for number in said:
        car = builders.make_car()
        Car.objects.filter(pk=car.pk).update(number=number)
    found = cars_in_turn(Car.objects.all(), today=builders.NOW.date())
    # What begins with no figure counts as nought, as a person would file it first.
    assert [car.number for car in found] == ["A1", "2", "2a", "07", "9", "10", "100"]
