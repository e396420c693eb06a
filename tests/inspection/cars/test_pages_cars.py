"""Addresses of cars: their tags; a number leads on while it means one car."""

from http import HTTPStatus

import pytest
from django.test import Client

from inspection.models import Car
from inventory.compute.roles import Role
from tests import builders

pytestmark = pytest.mark.django_db

PAGES = ("", "/sizes", "/gearing", "/on/rear-left")


def client_of(role: Role) -> Client:
    client = Client()
    client.force_login(builders.make_person(role))
    return client


def renumbered(car: Car, number: str) -> Car:
    car.number = number
    car.save(update_fields=["number"])
    return car


@pytest.mark.parametrize("page", PAGES)
def test_number_leads_to_the_car_that_has_it(page: str) -> None:
    car = renumbered(builders.make_car(), "7")
    led = client_of(Role.SCRUTINEER).get(f"/cars/7{page}?page=2")
    assert led.status_code == HTTPStatus.FOUND
    assert led["Location"] == f"/cars/{car.tag}{page}?page=2"
    assert client_of(Role.SCRUTINEER).get(led["Location"]).status_code == HTTPStatus.OK


def test_tag_as_it_was_typed_leads_to_the_tag_as_printed() -> None:
    car = builders.make_car()
    led = client_of(Role.SCRUTINEER).get(f"/cars/{car.tag.lower()}")
    assert led["Location"] == f"/cars/{car.tag}"


def test_number_that_is_a_tag_too_still_leads_to_its_car() -> None:
    """Three signs whose check sign is right: 2 is worth nothing, so 22 asks for 2."""
    car = renumbered(builders.make_car(), "222")
    assert client_of(Role.SCRUTINEER).get("/cars/222")["Location"].endswith(car.tag)


def test_number_of_two_cars_asks_which() -> None:
    cars = [renumbered(builders.make_car(), "7") for _ in range(2)]
    page = client_of(Role.SCRUTINEER).get("/cars/7/sizes")
    assert page.status_code == HTTPStatus.NOT_FOUND
    words = page.content.decode()
    assert "2 cars race with number 7" in words
    for car in cars:
        assert f'href="/cars/{car.tag}/sizes"' in words


def test_a_member_is_led_to_their_own_and_hears_of_no_other() -> None:
    mine, other = (renumbered(builders.make_car(), "7") for _ in range(2))
    client = Client()
    client.force_login(mine.owner)
    assert client.get("/cars/7")["Location"] == f"/cars/{mine.tag}"
    assert client.get(f"/cars/{other.tag}").status_code == HTTPStatus.NOT_FOUND
    assert client.get("/cars/8").status_code == HTTPStatus.NOT_FOUND


def test_kept_addresses_of_fit_and_jig_still_know_the_number() -> None:
    car = renumbered(builders.make_car(), "7")
    client = client_of(Role.SCRUTINEER)
    fit = client.get("/fit?car=7&kind=gear")
    assert fit.status_code == HTTPStatus.OK
    assert fit.context["car"].car == car
    assert client.get("/jig?car=7").context["car"].car == car
    renumbered(builders.make_car(), "7")
    assert client.get("/fit?car=7&kind=gear").status_code == 422
    assert client.get("/jig?car=7").context["car"] is None
    assert client.get(f"/fit?car={car.tag}&kind=gear").context["car"].car == car
