"""Finding a car, and naming one: tonight's first, never a list of all."""

import datetime as dt
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inspection.actions.race_nights import enter_car, open_night, plan_night
from inspection.forms.pick import CarField
from inspection.loaders.cars.addresses import cars_called
from inspection.loaders.cars.search import MOST_OFFERED, cars_in_turn, find_cars
from inspection.models import Car, RaceNight
from inspection.views.cars.cars import CARS_A_PAGE
from inspection.views.fit.gears import CARS_A_PAGE as CARS_FITTED_AT_ONCE
from inventory.models import Person
from tests import builders
from tests.conftest import QueryGrowth
from tests.inspection import garage

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 5, 8)


@pytest.fixture
def scrutineer(client_of: Callable[[Person], Client]) -> Client:
    return client_of(builders.make_scrutineer())


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def night_on(date: dt.date, *, is_open: bool = False) -> RaceNight:
    night = plan_night(
        name=f"Night of {date}",
        date=date,
        place="The hall",
        editions={builders.make_class(): builders.make_edition()},
        act=builders.act(),
    )
    return open_night(night, act=builders.act()) if is_open else night


def enter(night: RaceNight, car: Car, number: str = "") -> None:
    enter_car(
        night,
        car,
        race_class=car.race_class,
        driver=car.owner,
        number=number,
        act=builders.act(),
    )


def test_tonights_cars_come_first_then_those_of_a_year_then_the_others() -> None:
    never, tonight, old, lately = [
        builders.make_car(number=number) for number in ("12", "7", "9", "3")
    ]
    enter(night_on(TODAY, is_open=True), tonight)
    enter(night_on(TODAY - dt.timedelta(days=200)), lately)
    enter(night_on(TODAY - dt.timedelta(days=400)), old)
    found = cars_in_turn(Car.objects.all(), today=TODAY)
    assert list(found) == [tonight, lately, old, never]


def test_every_word_is_of_the_car_its_owner_or_its_class() -> None:
    rosa = builders.make_person(name="Rosa Ivey")
    car, _ = builders.make_car(owner=rosa), builders.make_car(owner=rosa)
    Car.objects.filter(pk=car.pk).update(name="Green Finch")
    for words in ("finch", "rosa FINCH", f"saloon {car.number}", car.tag, "green ros"):
        assert list(find_cars(Car.objects.all(), words)) == [car], words
    assert not find_cars(Car.objects.all(), "finch lark")
    assert find_cars(Car.objects.all(), "").count() == 2


def test_car_is_found_by_the_number_that_it_has_tonight() -> None:
    car = builders.make_car()
    enter(night_on(TODAY, is_open=True), car, number="7a")
    assert list(find_cars(Car.objects.all(), "7a")) == [car]
    assert cars_called(Car.objects.all(), "7a") == [car]


def test_car_is_called_by_number_name_tag_or_as_it_is_offered() -> None:
    car, _ = builders.make_car(), builders.make_car()
    for text in (car.number, car.name, str(car), car.tag, car.called, f" {car.tag} "):
        assert cars_called(Car.objects.all(), text) == [car], text
    assert not cars_called(Car.objects.all(), "no such car")


def test_number_on_two_cars_is_asked_about(scrutineer: Client) -> None:
    first, second = builders.make_car(), builders.make_car()
    Car.objects.filter(pk=second.pk).update(number=first.number)
    answer = scrutineer.get("/fit", {"car": first.number, "kind": "gear"})
    assert answer.status_code == 422
    words = text_of(answer)
    assert f"“{first.number}” is on several cars" in words
    assert f"{first.number} {second.name} · {second.tag}" in words


def test_unknown_car_is_named_with_what_is_expected(scrutineer: Client) -> None:
    builders.make_car()
    answer = scrutineer.get("/fit", {"car": "Nimbus", "kind": "gear"})
    assert answer.status_code == 422
    words = text_of(answer)
    assert "No car is called “Nimbus”: the number, name or tag of one" in words
    assert 'value="Nimbus"' in words


def test_picked_car_is_shown_by_its_whole_name(scrutineer: Client) -> None:
    car = garage.make_car()
    answer = scrutineer.get("/fit", {"car": car.number, "kind": "gear"})
    assert answer.status_code == 200
    assert f'value="{car.called}"' in text_of(answer)


def test_only_a_few_cars_are_offered() -> None:
    for _ in range(MOST_OFFERED + 3):
        builders.make_car()
    field = CarField()
    assert len(list(field.widget.offered())) == MOST_OFFERED


def test_member_names_no_car_but_their_own(
    client_of: Callable[[Person], Client],
) -> None:
    own, other = garage.make_car(), garage.make_car()
    member = client_of(own.owner)
    page = text_of(member.get("/fit"))
    assert own.called in page
    assert other.called not in page
    answer = member.get("/fit", {"car": other.number, "kind": "gear"})
    assert answer.status_code == 422


def test_list_of_cars_is_searched_and_turned(scrutineer: Client) -> None:
    cars = [builders.make_car() for _ in range(CARS_A_PAGE + 1)]
    enter(night_on(timezone.localdate(), is_open=True), cars[-1])
    first = scrutineer.get("/cars")
    shown = list(first.context["page"])
    assert shown[0] == cars[-1]
    assert len(shown) == CARS_A_PAGE
    assert "page=2" in text_of(first)
    assert len(scrutineer.get("/cars?page=2").context["page"].object_list) == 1
    found = scrutineer.get("/cars", {"q": cars[3].tag})
    assert list(found.context["page"]) == [cars[3]]
    nothing = scrutineer.get("/cars", {"q": "nimbus"})
    assert "No car is found by these words" in text_of(nothing)
    assert 'value="nimbus"' in text_of(nothing)


def test_cars_cost_the_same_queries_however_many(
    scrutineer: Client, same_queries: QueryGrowth
) -> None:
    def add(count: int) -> None:
        for _ in range(count):
            builders.make_car()

    same_queries(lambda: scrutineer.get("/cars"), add, at_most=7)


def test_page_of_a_part_asks_for_its_cars_at_a_click(scrutineer: Client) -> None:
    part = garage.gear(28, "15.00")
    page = text_of(scrutineer.get(f"/parts/{part.tag}"))
    assert f'hx-get="/parts/{part.tag}/cars" hx-target="#cars-taking"' in page
    assert "hx-trigger" not in page


def test_cars_for_a_part_are_fitted_a_page_at_a_time(scrutineer: Client) -> None:
    part = garage.gear(28, "15.00")
    cars = [builders.make_car() for _ in range(CARS_FITTED_AT_ONCE + 1)]
    enter(night_on(timezone.localdate(), is_open=True), cars[-1])
    address = f"/parts/{part.tag}/cars"
    first = scrutineer.get(address, headers={"HX-Request": "true"})
    assert len(first.context["lines"]) == CARS_FITTED_AT_ONCE
    assert cars[-1] in {line.car for line in first.context["lines"]}
    # As a piece of the part's page it must lead to its own address.
    assert f'hx-get="{address}?page=2"' in text_of(first)
    second = scrutineer.get(f"{address}?page=2")
    assert len(second.context["lines"]) == 1
    found = scrutineer.get(address, {"q": cars[2].tag})
    assert [line.car for line in found.context["lines"]] == [cars[2]]
    assert "0 of 1 take it" in text_of(found)
    nothing = scrutineer.get(address, {"q": "nimbus"})
    assert "No car is found by these words" in text_of(nothing)


def test_unmarked_gear_is_held_against_a_page_of_cars(scrutineer: Client) -> None:
    for _ in range(CARS_FITTED_AT_ONCE + 1):
        builders.make_car()
    hand = {"role": "spur", "teeth": "28", "over": "15.00"}
    page = scrutineer.get("/fit/unmarked-gear", hand)
    assert len(page.context["lines"]) == CARS_FITTED_AT_ONCE
    assert "over=15.00&page=2" in text_of(page)


def test_drivers_are_typed_by_name(scrutineer: Client) -> None:
    night, car = night_on(TODAY, is_open=True), builders.make_car()
    driver = builders.make_person(name="Ida Penn")
    address, said = f"/night/{night.pk}/enter", {"race_class": car.race_class_id}
    wrong = scrutineer.post(address, said | {"car": car.number, "driver": "Ida Pen"})
    assert wrong.status_code == 422
    assert "Nobody here is called “Ida Pen”" in text_of(wrong)
    assert f'value="{car.called}"' in text_of(wrong)
    scrutineer.post(address, said | {"car": car.called, "driver": "ida penn"})
    assert night.entries.get().driver == driver
    assert 'value="Ida Penn"' in text_of(scrutineer.get(address))
