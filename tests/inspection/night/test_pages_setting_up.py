"""Setting up by the pages: a night, its entries, a car and its geometry."""

import pytest
from django.test import Client

from inspection.compute.night.entries import EntryState
from inspection.compute.rulebooks.requirements import Answer
from inspection.models import Car, Entry, RaceNight
from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders

pytestmark = pytest.mark.django_db


def client_of(*roles: Role) -> Client:
    client = Client()
    client.force_login(builders.make_person(*roles))
    return client


@pytest.fixture
def chief() -> Client:
    return client_of(Role.CHIEF_SCRUTINEER)


def test_empty_board_leads_whoever_may_to_a_first_night(chief: Client) -> None:
    assert 'href="/night/new"' in chief.get("/").content.decode()
    member = client_of(Role.MEMBER).get("/").content.decode()
    assert 'href="/night/new"' not in member
    assert "It fills when a race night is set up." in member
    for page in ("/nights", "/mine", "/notices"):
        assert f'href="{page}"' in member


def test_night_is_set_up_opened_filled_and_closed_by_pages(chief: Client) -> None:
    edition, race_class = builders.make_edition(), builders.make_class()
    for date in ("0206-05-08", "9999-12-31", "0001-01-01", "1949-12-31"):
        slip = chief.post("/night/new", {"name": "Round 1", "date": date})
        assert f"“{date}” is no date of a race night" in slip.content.decode()
        assert f'value="{date}"' in slip.content.decode()
    nothing = chief.post("/night/new", {"name": "Round 1", "date": "2026-05-08"})
    assert nothing.status_code == 422
    assert "Name at least one class" in nothing.content.decode()
    chief.post(
        "/night/new",
        {
            "name": "Round 1",
            "date": "2026-05-08",
            f"class_{race_class.pk}": edition.pk,
        },
    )
    night = RaceNight.objects.get()
    assert "Open the night" in chief.get("/").content.decode()
    chief.post(f"/night/{night.pk}/open")
    car = builders.make_car()
    said: dict[str, object] = {"car": car.tag, "race_class": race_class.pk}
    chief.post(f"/night/{night.pk}/enter", said)
    entry = Entry.objects.get()
    assert (entry.driver, entry.state) == (car.owner, EntryState.WAITING)
    again = chief.post(f"/night/{night.pk}/enter", said)
    assert again.status_code == 422
    assert "entered in Saloon already" in again.content.decode()
    other = builders.make_car()
    said |= {"car": other.tag, "number": car.number}
    taken = chief.post(f"/night/{night.pk}/enter", said)
    assert taken.status_code == 422
    assert "give this car another number" in taken.content.decode()
    strange = chief.post(f"/night/{night.pk}/enter", said | {"number": "7/7"})
    assert "is no number of a car" in strange.content.decode()
    chief.post(f"/night/{night.pk}/enter", said | {"number": "7a"})
    assert Entry.objects.get(car=other).number == "7a"
    assert ">7a<" in chief.get("/").content.decode()
    assert "Close Round 1" in chief.get(f"/night/{night.pk}/close").content.decode()
    chief.post(f"/night/{night.pk}/close")
    assert RaceNight.objects.get().closed_at is not None


def test_night_with_a_car_on_the_block_is_not_closed(chief: Client) -> None:
    sheet = builders.make_sheet()
    night = sheet.entry.night
    page = chief.post(f"/night/{night.pk}/close", follow=True)
    assert "still on the block" in page.content.decode()
    twice = chief.post(f"/night/{night.pk}/open", follow=True)
    assert "opened already" in twice.content.decode()


def test_member_registers_a_car_and_stores_its_geometry() -> None:
    member = client_of(Role.MEMBER)
    rules = (
        builders.rule("1", "clearance_gear", lower=0.6),
        builders.rule("2", "motor_sealed", required=Answer.YES),
    )
    builders.make_edition(rules)
    race_class = builders.make_class()
    said = {
        "number": "77",
        "name": "Heron",
        "race_class": race_class.pk,
        "layout": "in-line",
        "front_carrier": "front wheels",
    }
    strange = member.post("/cars/new", said | {"number": "7/7"})
    assert strange.status_code == 422
    made = member.post("/cars/new", said)
    address = f"/cars/{Car.objects.get().tag}"
    assert made["Location"] == f"{address}/sizes"
    page = member.get(f"{address}/sizes").content.decode()
    assert "axle_height_rear_left" in page
    wrong = member.post(f"{address}/sizes", {"axle_height_rear_left": "8,2x"})
    assert wrong.status_code == 422
    assert "8,2x" in wrong.content.decode()
    assert not builders.sizes_of_cars().exists()
    gauge = builders.make_gauge(at=builders.now())
    member.post(
        f"{address}/sizes", {"axle_height_rear_left": "8,24", "gauge": gauge.pk}
    )
    value = builders.sizes_of_cars().get()
    assert (value.value, value.gauge_mode) == (8_240_000, gauge)
    assert "8.24" in member.get(address).content.decode()


def test_geometry_of_another_members_car_is_not_there() -> None:
    car = builders.make_car()
    assert client_of(Role.MEMBER).get(f"/cars/{car.tag}/sizes").status_code == 404


def test_car_of_a_class_without_an_edition_asks_nothing() -> None:
    car = builders.make_car()
    scrutineer = client_of(Role.SCRUTINEER)
    page = scrutineer.get(f"/cars/{car.tag}/sizes")
    assert page.status_code == 200
    assert Car.objects.count() == 1


def test_admin_adds_a_person_who_can_sign_in() -> None:
    admin = client_of(Role.ADMIN)
    said = {
        "name": "Ida Penn",
        "sign_in_name": "ida",
        "password": "short",
        "roles": ["member", "scrutineer"],
    }
    refused = admin.post("/people/new", said)
    assert refused.status_code == 422
    assert "short" not in refused.content.decode().split("value=")[-1]
    admin.post("/people/new", said | {"password": "nine blue gears turning"})
    person = Person.objects.get(sign_in_name="ida")
    assert person.check_password("nine blue gears turning")
    assert "Ida Penn" in admin.get("/people").content.decode()
    taken = admin.post(
        "/people/new",
        said | {"sign_in_name": "IDA", "password": "nine blue gears turning"},
    )
    assert taken.status_code == 422
