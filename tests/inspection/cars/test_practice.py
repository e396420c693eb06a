"""A practice check leaves no record; a dry run holds every car against a night's."""

import pytest
from django.test import Client

from inspection.compute.rulebooks import Answer
from inspection.models import Sheet
from inventory.compute.roles import Role
from inventory.models import AuditRow, Person
from tests import builders

pytestmark = pytest.mark.django_db

RULES = (
    builders.rule("1", "tyre_diameter_rear", lower=18),
    builders.rule("2", "motor_sealed", required=Answer.YES),
)


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_practice_check_judges_what_is_typed_and_keeps_nothing() -> None:
    builders.make_edition(RULES)
    car = builders.make_car()
    owner = client_of(car.owner)
    address = f"/cars/{car.tag}/practice"
    before = AuditRow.objects.count()
    empty = owner.get(address).content.decode()
    assert "No record: nothing is kept, nothing is signed." in empty
    assert "No mandatory rule that can be judged is broken." in empty
    # 17.9 and 17.9 are below 18; a motor that is not sealed breaks the other rule.
    said = {
        "tyre_diameter_rear_left": "17.9",
        "tyre_diameter_rear_right": "17.9",
        "motor_sealed": "0",
    }
    page = owner.get(address, said).content.decode()
    assert "It would be sent back" in page
    assert page.count("mark-fail") > empty.count("mark-fail")
    assert 'value="17.9"' in page
    well = owner.get(
        address,
        said
        | {
            "tyre_diameter_rear_left": "18,2",
            "tyre_diameter_rear_right": "18.2",
            "motor_sealed": "1",
        },
    ).content.decode()
    assert "It would be sent back" not in well
    wrong = owner.get(address, {"tyre_diameter_rear_left": "round"})
    assert wrong.status_code == 422
    assert "round" in wrong.content.decode()
    assert AuditRow.objects.count() == before
    assert not Sheet.objects.exists()
    assert not builders.sizes_of_cars().exists()


def test_practice_check_is_for_whoever_sees_the_car() -> None:
    car = builders.make_car()
    address = f"/cars/{car.tag}/practice"
    assert client_of(builders.make_person()).get(address).status_code == 404
    page = client_of(car.owner).get(address).content.decode()
    assert "The car's class has no published rulebook yet." in page


def test_dry_run_tells_what_breaks_and_what_is_not_known() -> None:
    night = builders.make_night(builders.make_edition(RULES))
    chief = client_of(builders.make_person(Role.CHIEF_SCRUTINEER))
    address = f"/night/{night.pk}/dry-run"
    assert "The club has no car of a class" in chief.get(address).content.decode()
    tyres = ("tyre_diameter_rear_left", "tyre_diameter_rear_right")
    small = builders.make_car(geometry=dict.fromkeys(tyres, "17.5"))
    unknown = builders.make_car()
    builders.make_entry(night=night, car=small)
    page = " ".join(chief.get(address).content.decode().split())
    rows = page.split('<li class="row">')[1:]
    by_car = {
        car.pk: next(row for row in rows if f"/cars/{car.tag}/" in row)
        for car in (small, unknown)
    }
    assert "Would be sent back" in by_car[small.pk]
    assert "1 Rule 1" in by_car[small.pk]
    assert "entered" in by_car[small.pk]
    assert "Not all known" in by_car[unknown.pk]
    assert "entered" not in by_car[unknown.pk]
    assert f'href="{address}"' in chief.get(f"/night/{night.pk}").content.decode()


def test_there_is_no_dry_run_of_a_night_that_is_not_there() -> None:
    chief = client_of(builders.make_person(Role.CHIEF_SCRUTINEER))
    assert chief.get("/night/77/dry-run").status_code == 404
