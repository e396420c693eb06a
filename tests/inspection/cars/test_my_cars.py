"""My cars: legal or not in each class, what they lack, what is kept for them."""

from collections.abc import Callable
from html import unescape

import pytest
from django.test import Client

from inspection.compute.night.entries import PartPosition
from inspection.models import Car
from inventory.actions.stock import reserve_part
from inventory.models import Person
from tests import builders
from tests.conftest import QueryGrowth
from tests.inspection import garage

pytestmark = pytest.mark.django_db

RULES = (
    builders.rule("1", "clearance_gear", lower=0.8),
    builders.rule("2", "tyre_diameter_rear", lower=18, classes=("Saloon",)),
    builders.rule("3", "tyre_diameter_rear", lower=20.5, classes=("Prototype",)),
)


@pytest.fixture
def owner(db: None) -> Person:
    builders.make_class("Prototype")
    builders.make_edition(RULES)
    return builders.make_person()


def words_of(client: Client) -> str:
    return " ".join(unescape(client.get("/cars/mine").content.decode()).split())


def test_car_is_judged_in_each_class_and_what_is_kept_for_it_is_named(
    owner: Person, client_of: Callable[[Person], Client]
) -> None:
    car = garage.make_car(owner=owner)
    garage.make_car(owner=builders.make_person())
    kept, large = garage.gear(28, "15.00"), garage.gear(34, "18.00")
    for part in (kept, large):
        reserve_part(part, act=builders.act(owner))
    page = client_of(owner).get("/cars/mine")
    (mine,) = page.context["cars"]
    words = words_of(client_of(owner))
    # Tyres of 20.00: 18 asked in one class, 20.5 in the other; 10 - 15 / 2 is 2.5.
    assert mine.car == car
    assert "Saloon: legal" in words
    assert "Prototype: not legal" in words
    assert [one.rule.number for one in mine.others[0].broken] == ["3"]
    assert mine.others[0].broken[0].short_by == "0.50 mm"
    assert "Legal down to rear tyres of 18.00 mm, 2.00 mm less than now" in words
    # One that does not fit is not kept for this car.
    assert mine.kept == (kept,)
    Car.objects.filter(pk=car.pk).update(race_class=mine.others[0].race_class)
    words = words_of(client_of(owner))
    assert "Prototype: not legal" in words
    assert "0.50 mm outside" in words


def test_what_is_not_known_is_not_called_legal(
    owner: Person, client_of: Callable[[Person], Client]
) -> None:
    garage.make_car(owner=owner, without=frozenset({"width_rear"}))
    words = words_of(client_of(owner))
    assert "Saloon: legal as far as known" in words
    assert "1 rule cannot be judged yet" in words


def test_own_cars_cost_the_same_queries_however_many(
    owner: Person, client_of: Callable[[Person], Client], same_queries: QueryGrowth
) -> None:
    def add(count: int) -> None:
        for _ in range(min(count, 4)):
            garage.make_car(
                owner=owner, on_car={PartPosition.GEAR: garage.gear(30, "16.00")}
            )
        reserve_part(garage.gear(28, "15.00"), act=builders.act(owner))

    client = client_of(owner)
    client.get("/cars/mine")
    same_queries(lambda: client.get("/cars/mine"), add, at_most=26)
