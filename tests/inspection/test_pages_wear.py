"""How long a car stays legal: on its page, and in one line on the sheet it passed."""

from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client

from inspection.actions.cars import store_geometry
from inspection.actions.race_nights import close_night
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.entries import Decision, PartPosition
from inspection.loaders.fit_cars import load_cars
from inspection.loaders.wear import tyre_readings, wear_of_car
from inspection.models import Car, Edition, Sheet
from inventory.compute.stock import PartQuantity
from inventory.compute.units import Unit
from inventory.models import Person
from tests import builders
from tests.conftest import queries_of
from tests.inspection import garage

pytestmark = pytest.mark.django_db

RULES = (
    builders.rule("1", "clearance_gear", lower=0.8),
    builders.rule("2", "tyre_diameter_rear", lower=19.2),
    builders.rule("3", "weight_car", lower=80),
)
TYRES = ("tyre_diameter_rear_left", "tyre_diameter_rear_right")


@pytest.fixture
def car(db: None) -> Car:
    builders.make_edition(RULES)
    return garage.make_car()


@pytest.fixture
def client(car: Car, client_of: Callable[[Person], Client]) -> Client:
    return client_of(car.owner)


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def pass_car(car: Car, sizes: tuple[str, str], *, hours: float) -> Sheet:
    """Read a car's tyres and weight on a night of its own, and pass it."""
    night = builders.make_night(Edition.objects.get())
    entry = builders.make_entry(car=car, night=night)
    act = builders.act(minutes=60 * hours)
    sheet = start_sheet(entry.pk, block=None, changed=(), act=act)
    for column, text in [*zip(TYRES, sizes, strict=True), ("weight_car", "95.2")]:
        unit = Unit.GRAM if column == "weight_car" else Unit.MILLIMETRE
        gauge = garage.caliper(unit).mode
        read = builders.read(sheet, column, text, gauge=gauge, is_confirmed=True)
        assert read.reading is not None
    seal_sheet(sheet.number, decision=Decision.PASSED, act=act)
    close_night(night, act=builders.act(minutes=60 * hours + 30))
    return sheet


def test_first_rule_to_break_is_the_one_worked_by_hand(
    client: Client, car: Car
) -> None:
    # 20.00 down to 19.20 by rule 2; the gear of 15.00 needs no more than 16.60.
    wear = wear_of_car(load_cars(Car.objects.filter(pk=car.pk))[0])
    assert wear is not None
    assert wear.rule is not None
    assert (wear.rule.number, wear.per_night_mm) == ("2", None)
    assert wear.limit.wear == pytest.approx(0.8, abs=1e-3)
    words = text_of(client.get(f"/cars/{car.number}"))
    assert "Legal down to rear tyres of 19.20 mm, 0.80 mm less than now" in words
    assert "rule 2 breaks first." in words
    assert "Its own wear is known once" in words


def test_gear_governs_where_it_is_large(client_of: Callable[[Person], Client]) -> None:
    builders.make_edition(RULES)
    gear = garage.gear(34, "18.00")
    car = garage.make_car(on_car={PartPosition.GEAR: gear})
    words = text_of(client_of(car.owner).get(f"/cars/{car.number}"))
    # (D - 18) / 2 = 0.8 at 19.60.
    assert "Legal down to rear tyres of 19.60 mm, 0.40 mm less than now" in words
    assert "rule 1 breaks first." in words
    assert "Rear tyres that the rules allow" in words


def test_nights_left_are_by_this_cars_own_wear(client: Client, car: Car) -> None:
    for hours, sizes in [(1, ("20.02", "20.00")), (24, ("19.92", "19.90"))]:
        pass_car(car, sizes, hours=hours)
    sheet = pass_car(car, ("19.86", "19.82"), hours=48)
    # Left 20.02 to 19.86 and right 20.00 to 19.82 over two races: 0.34 / 4 = 0.085.
    # The smaller, right, tyre may lose 0.62 more: seven whole nights.
    wear = wear_of_car(load_cars(Car.objects.filter(pk=car.pk))[0])
    assert wear is not None
    assert wear.per_night_mm == pytest.approx(0.085)
    assert wear.nights == 7
    line = (
        "0.62 mm less than now; rule 2 breaks first; 7 nights at this car's own 0.085"
    )
    assert line in text_of(client.get(f"/sheet/{sheet.number}"))
    page = client.get(f"/cars/{car.number}")
    assert line in text_of(page)
    assert "Rear tyres, mm" in text_of(page)
    assert page.context["wear_chart_words"]


def test_readings_at_the_bench_count_with_the_races_before_them(car: Car) -> None:
    pass_car(car, ("20.02", "20.00"), hours=1)
    left = car.fitted.get(position=PartPosition.REAR_LEFT).part
    garage.measured(left, {PartQuantity.TYRE_DIAMETER: "19.95"}, minutes=60 * 20)
    readings = tyre_readings(car)
    # What was read when the tyre came in, before it raced on this car, is left out.
    assert [(one.side.value, one.races) for one in readings] == [
        ("rear left", 0),
        ("rear right", 0),
        ("rear left", 1),
    ]


def test_rule_broken_now_leaves_no_wear(client_of: Callable[[Person], Client]) -> None:
    builders.make_edition(RULES)
    gear = garage.gear(36, "18.60")
    car = garage.make_car(on_car={PartPosition.GEAR: gear})
    words = text_of(client_of(car.owner).get(f"/cars/{car.number}"))
    assert "No wear left: rule 1 is past its limit already." in words


def test_no_rule_that_breaks_is_told(client_of: Callable[[Person], Client]) -> None:
    builders.make_edition(RULES[2:])
    car = garage.make_car()
    words = text_of(client_of(car.owner).get(f"/cars/{car.number}"))
    assert "No rule breaks within 3 mm of wear." in words


def test_car_without_measured_tyres_is_told_what_to_measure(
    client_of: Callable[[Person], Client],
) -> None:
    builders.make_edition(RULES)
    car = builders.make_car()
    words = text_of(client_of(car.owner).get(f"/cars/{car.number}"))
    assert "Measure the diameters of both rear tyres" in words


def test_rules_on_what_is_not_known_are_named(client: Client, car: Car) -> None:
    other = garage.make_car(owner=car.owner, without=frozenset({"weight_car"}))
    words = text_of(client.get(f"/cars/{other.number}"))
    assert "Not known of the car off the block, so not judged: rule 3." in words


def test_sent_back_sheet_has_no_wear_line(client: Client, car: Car) -> None:
    night = builders.make_night(Edition.objects.get())
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night))
    seal_sheet(sheet.number, decision=Decision.SENT_BACK, act=builders.act(minutes=3))
    assert "Legal down to" not in text_of(client.get(f"/sheet/{sheet.number}"))


def test_long_history_costs_as_many_queries_as_a_short_one(
    client: Client, car: Car
) -> None:
    def visit() -> None:
        assert client.get(f"/cars/{car.number}").status_code == 200

    pass_car(car, ("20.02", "20.00"), hours=1)
    visit()
    few = len(queries_of(visit))
    for hours in range(2, 8):
        pass_car(car, ("20.00", "19.98"), hours=hours)
    assert len(queries_of(visit)) == few <= 26


# --- room for parts -----------------------------------------------------------


def test_room_is_stored_by_the_owner_and_shown_again(client: Client, car: Car) -> None:
    page = client.get(f"/cars/{car.number}/room")
    assert 'value="9.2"' in page.content.decode()
    typed = garage.ROOM | {"axle_to_bar_mm": "3/8in", "arch_width_mm": "None"}
    stored = client.post(f"/cars/{car.number}/room", typed, follow=True)
    assert "2 sizes stored." in text_of(stored)
    assert 'value="3/8in"' in client.get(f"/cars/{car.number}/room").content.decode()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"slot_low_mm": "9.9"}, "Motor slot, nearest (9.9 mm) is greater than"),
        ({"spacers_mm": "none"}, "none"),
        ({"axle_room_mm": "95"}, "“95” was typed; 0 to 80 mm was expected"),
    ],
)
def test_room_that_cannot_be_is_refused_and_kept(
    client: Client, car: Car, typed: dict[str, str], said: str
) -> None:
    page = client.post(f"/cars/{car.number}/room", typed)
    assert page.status_code == 422
    assert said in text_of(page)
    (kept,) = typed.values()
    assert f'value="{kept}"' in page.content.decode()


def test_axle_is_asked_with_the_geometry(client: Client, car: Car) -> None:
    texts = {"axle_diameter": "2.36"}
    store_geometry(car, texts, taken_with=None, act=builders.act(minutes=1))
    assert "Axle diameter" in text_of(client.get(f"/cars/{car.number}/geometry"))
