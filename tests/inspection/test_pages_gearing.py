"""A car's gearing: its table of ratios, and the mesh of two gears."""

import math
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client

from inspection.actions.cars import CarFacts, register_car
from inspection.actions.rooms import store_room_sizes
from inspection.compute.entries import PartPosition
from inspection.compute.quantity import FrontCarrier, Layout
from inspection.models import Car
from inventory.models import Person
from tests import builders
from tests.conftest import QueryGrowth
from tests.inspection import garage

pytestmark = pytest.mark.django_db


@pytest.fixture
def car(db: None) -> Car:
    builders.make_edition(garage.RULES)
    return garage.make_car()


@pytest.fixture
def client(car: Car, client_of: Callable[[Person], Client]) -> Client:
    return client_of(car.owner)


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def gearing(client: Client, car: Car, **asked: str) -> Any:
    return client.get(f"/cars/{car.number}/gearing", asked)


def test_ratios_and_rollouts_are_those_of_the_teeth(client: Client, car: Car) -> None:
    garage.pinion(11)
    garage.gear(32, "17.00")
    garage.gear(32, "17.02")
    table = gearing(client, car).context["table"]
    assert table.pitch == "module 0.5"
    assert table.pinions == (9, 11)
    assert [(row.teeth, row.count) for row in table.rows] == [(28, 0), (32, 2)]
    now, changed = table.rows[0].cells[0], table.rows[1].cells[1]
    assert now.is_now
    assert not changed.is_now
    assert changed.ratio == pytest.approx(32 / 11)
    assert changed.rollout_mm == pytest.approx(math.pi * 20 * 11 / 32)
    # The rules ask 2.5 to 4: 28 / 11 = 2.55 is inside, 28 / 9 and 32 / 9 too.
    assert all(cell.is_allowed for row in table.rows for cell in row.cells)


def test_ratio_outside_the_rules_is_marked(client: Client, car: Car) -> None:
    garage.gear(38, "20.00")
    page = gearing(client, car)
    # 38 / 9 = 4.22.
    assert not page.context["table"].rows[1].cells[0].is_allowed
    assert "outside the rules" in text_of(page)
    assert "The rules ask a ratio of 2.5 to 4.0." in text_of(page)


def test_pitches_are_shown_one_at_a_time(client: Client, car: Car) -> None:
    garage.pinion(12, pitch="64 pitch")
    garage.gear(44, "18.26", pitch="64 pitch")
    assert gearing(client, car).context["table"].pitch == "module 0.5"
    table = gearing(client, car, pitch="64 pitch").context["table"]
    assert (table.pitch, table.pinions) == ("64 pitch", (12,))
    assert [row.teeth for row in table.rows] == [44]
    assert gearing(client, car, pitch="7 pitch").context["table"].pitch == "module 0.5"


def test_mesh_of_the_handbook_pair_is_that_of_the_handbook(
    client_of: Callable[[Person], Client],
) -> None:
    # Module 3, 12 and 24 teeth at 54 mm: 1.405 with the path of contact cut where the
    # pinion's involute begins (2-maths 2.6, from the references C5).
    car = garage.make_car(
        on_car={
            PartPosition.PINION: garage.pinion(12, pitch="module 3"),
            PartPosition.GEAR: garage.gear(24, "78.00", pitch="module 3"),
        },
        room={"slot_low_mm": "53.9", "slot_high_mm": "54.1"},
    )
    page = gearing(client_of(car.owner), car)
    rows = {round(row.distance_mm, 2): row for row in page.context["rows"]}
    assert rows[54.0].contact_ratio == pytest.approx(1.405, abs=5e-4)
    assert (rows[54.0].backlash_mm, rows[54.0].word) == (0.0, "tight")
    assert rows[53.9].word == "jammed"
    assert rows[53.9].contact_ratio is None
    # 2 da tan(20°), the straight line of the handbooks.
    straight = 2 * 0.1 * math.tan(math.radians(20))
    assert rows[54.1].backlash_mm == pytest.approx(straight, rel=0.01)
    assert rows[54.1].word == "good"


def test_pair_that_is_asked_for_is_meshed_through_the_slot(
    client: Client, car: Car
) -> None:
    rows = gearing(client, car, pinion="9", gear="26").context["rows"]
    # (9 + 26) / 4 = 8.75 in a slot of 8.6 to 9.3; two jammed places are kept.
    assert [row.word.value for row in rows[:3]] == ["jammed", "jammed", "tight"]
    assert rows[-1].distance_mm == pytest.approx(9.3)
    assert rows[-1].word == "out of mesh"


def test_slot_that_is_not_known_is_told(
    client_of: Callable[[Person], Client], car: Car
) -> None:
    bare = garage.make_car(room={}, owner=car.owner)
    page = gearing(client_of(car.owner), bare)
    assert "The motor's slot is not known" in text_of(page)
    # From the tight distance on: (9 + 28) / 4.
    assert page.context["rows"][0].distance_mm == pytest.approx(9.25)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"pinion": "30", "gear": "28"}, "a pinion has no more teeth than its gear"),
        ({"pinion": "3", "gear": "28"}, "“3” was typed; a whole number of teeth"),
        ({"pinion": "9", "gear": "2000"}, "“2000” was typed; a whole number"),
        ({"pinion": "", "gear": "28"}, "This field is required"),
    ],
)
def test_teeth_that_cannot_mesh_are_refused_and_kept(
    client: Client, car: Car, asked: dict[str, str], said: str
) -> None:
    page = gearing(client, car, **asked)
    assert page.status_code == 422
    assert said in text_of(page)
    assert f'value="{asked["gear"]}"' in page.content.decode()
    assert page.context["rows"] == []


def test_crowns_mesh_is_told_elsewhere(
    client_of: Callable[[Person], Client], car: Car
) -> None:
    in_line = builders.make_car(layout=Layout.IN_LINE)
    words = text_of(gearing(client_of(in_line.owner), in_line))
    assert "A crown's mesh hangs on where it sits" in words
    assert "The teeth of pinion and gear are not known." in words
    assert "No pinion and gear of one recorded pitch" in words


def test_anglewinders_axes_are_told_not_to_be_checked(
    client_of: Callable[[Person], Client], car: Car
) -> None:
    owner = car.owner
    aslant = register_car(
        CarFacts(
            number="A1",
            name="Aslant",
            owner=owner,
            race_class=car.race_class,
            layout=Layout.ANGLEWINDER,
            front_carrier=FrontCarrier.GUIDE,
        ),
        act=builders.act(),
    )
    slot = {"slot_low_mm": "9", "slot_high_mm": "9.5"}
    store_room_sizes(aslant, slot, act=builders.act())
    builders.fit(aslant, garage.pinion(9), PartPosition.PINION)
    builders.fit(aslant, garage.gear(28, "15.00"), PartPosition.GEAR)
    words = text_of(gearing(client_of(owner), aslant))
    assert "an anglewinder's crossed axes are not checked" in words


def test_many_gears_cost_as_many_queries_as_few(
    client: Client, car: Car, same_queries: QueryGrowth
) -> None:
    def add(count: int) -> None:
        for place in range(count):
            garage.gear(28 + 2 * (place % 4), "15.00")

    # The edition is read once, by whoever asks first.
    gearing(client, car)
    same_queries(lambda: gearing(client, car), add, at_most=15)
