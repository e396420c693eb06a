"""The gauges that a club usually has, brought into use at one go."""

from decimal import Decimal

import pytest
from django.test import Client

from inventory.compute.measuring import USUAL_GAUGES
from inventory.compute.measuring.readings import GaugeMode as Mode
from inventory.compute.roles import Role
from inventory.models import Gauge, GaugeMode
from tests import builders

ADDRESS = "/gauges/usual"


@pytest.fixture
def client(db: None) -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


def typed(**said: str) -> dict[str, str]:
    """Give what the page's fields hold before anything is typed, and more."""
    usual: dict[str, str] = {}
    for one in USUAL_GAUGES:
        usual |= {f"name_{one.key}": one.name, f"error_{one.key}": one.modes[0].error}
    return usual | said


def test_calipers_errors_are_those_of_the_standards() -> None:
    """DIN 862: 0.02 mm outside to 100 mm, 0.02 mm more for inside and depth."""
    (caliper,) = [one for one in USUAL_GAUGES if one.key == "caliper"]
    errors = {mode.mode: Decimal(mode.error) for mode in caliper.modes}
    assert errors[Mode.OUTSIDE] == Decimal("0.02")
    assert errors[Mode.INSIDE] == errors[Mode.DEPTH] == Decimal("0.04")


def test_ticked_ones_come_into_use_with_what_was_typed(client: Client) -> None:
    said = typed(
        has_caliper="on",
        name_caliper="The blue one",
        error_caliper="0,03",
        has_scale="on",
    )
    made = client.post(ADDRESS, said, follow=True)
    assert "The blue one, Scale: in use once a check has passed." in (
        made.content.decode()
    )
    assert {one.name for one in Gauge.objects.all()} == {"The blue one", "Scale"}
    errors = {
        row.mode: row.max_permissible_error
        for row in GaugeMode.objects.filter(gauge__name="The blue one")
    }
    assert errors[Mode.OUTSIDE] == 30_000
    assert {errors[mode] for mode in (Mode.INSIDE, Mode.DEPTH, Mode.STEP)} == {50_000}
    assert "Never checked" in made.content.decode()


def test_every_one_of_them_can_be_taken(client: Client) -> None:
    client.post(ADDRESS, typed(**{f"has_{one.key}": "on" for one in USUAL_GAUGES}))
    assert Gauge.objects.count() == len(USUAL_GAUGES)
    assert GaugeMode.objects.count() == sum(len(one.modes) for one in USUAL_GAUGES)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "No gauge is ticked"),
        ({"has_scale": "on", "name_scale": ""}, "A name is expected."),
        ({"has_scale": "on", "error_scale": "-0.1"}, "An error is not below 0."),
        ({"has_scale": "on", "error_scale": "o.1"}, "o.1"),
        ({"has_scale": "on", "has_rule": "on", "name_rule": "Scale"}, "“Scale”"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_written(
    client: Client, said: dict[str, str], sentence: str
) -> None:
    page = client.post(ADDRESS, typed(**said))
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert not Gauge.objects.exists()
