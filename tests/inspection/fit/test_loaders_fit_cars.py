"""What is known of a car between the nights, and where each value comes from."""

from dataclasses import replace

import numpy as np
import pytest

from inspection.actions.cars import store_geometry
from inspection.actions.fit.fitted import fit_part
from inspection.compute.night.entries import PartPosition
from inspection.compute.quantities.sources import Source
from inspection.loaders.fit.cars import CarNow, load_cars
from inspection.loaders.rulebooks.editions import load_edition
from inspection.models import Car, Edition, Sheet
from inventory.compute.numbers.units import Unit
from inventory.compute.stock import GuideFacts, PartQuantity
from tests import builders
from tests.conftest import QueryGrowth
from tests.inspection import garage

pytestmark = pytest.mark.django_db


def now(car: Car) -> CarNow:
    (found,) = load_cars(Car.objects.filter(pk=car.pk))
    return found


def sealed(car: Car, readings: dict[str, str]) -> Sheet:
    """Read a car on the block and send it back: the rest is not measured."""
    night = builders.make_night(Edition.objects.get())
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night))
    for column, text in readings.items():
        unit = Unit.GRAM if column == "weight_car" else Unit.MILLIMETRE
        gauge = garage.caliper(unit).mode
        taken = builders.read(sheet, column, text, gauge=gauge, is_confirmed=True)
        assert taken.reading is not None
    builders.send_back(sheet.number, act=builders.act(minutes=3))
    return sheet


def test_parts_count_before_the_block_and_the_block_before_what_is_stored() -> None:
    builders.make_edition(garage.RULES)
    car = garage.make_car()
    sealed(car, {"weight_car": "97.4"})
    values = now(car).values
    assert (values["weight_car"].value, values["weight_car"].source) == (
        97.4,
        Source.TAKEN,
    )
    assert values["tyre_diameter_rear_left"].source is Source.FITTED_PART
    assert values["teeth_gear"].value == 28
    assert values["axle_diameter"].source is Source.STORED
    assert values["layout"].source is Source.DECLARED


def test_envelope_has_the_parts_and_the_room_of_the_car() -> None:
    builders.make_edition(garage.RULES)
    car = now(garage.make_car(room=garage.ROOM | {"arch_width_mm": "none"}))
    envelope = car.envelope
    assert envelope.pinion.module_mm.tolist() == [0.5]
    assert envelope.gear.bore_mm.tolist() == [2.4]
    assert envelope.motor.shaft_length_mm.tolist() == [6.0]
    assert envelope.mounting.slot_high_mm.tolist() == [9.3]
    assert np.isinf(envelope.mounting.arch_width_mm[0])
    assert [rule.number for rule in car.rules] == ["1", "2", "3", "4"]


def test_reading_of_a_tyre_that_is_gone_counts_no_more() -> None:
    rules = (*garage.RULES, builders.rule("5", "clearance_rear", lower=1))
    builders.make_edition(rules)
    car = garage.make_car()
    sealed(car, {"clearance_rear": "1.52", "weight_car": "97.4"})
    assert now(car).values["clearance_rear"].text == "1.52 mm"
    fit_part(
        car, garage.tyre("19.00"), PartPosition.REAR_LEFT, act=builders.act(minutes=5)
    )
    values = now(car).values
    assert "clearance_rear" not in values
    assert values["tyre_diameter_rear_left"].text == "19.00 mm"


@pytest.mark.parametrize("how", ["the tyre was measured", "the axle was reset"])
def test_what_was_read_before_a_change_counts_no_more(how: str) -> None:
    rules = (*garage.RULES, builders.rule("5", "clearance_rear", lower=1))
    builders.make_edition(rules)
    car = garage.make_car()
    sealed(car, {"clearance_rear": "1.52"})
    if how == "the tyre was measured":
        part = car.fitted.get(position=PartPosition.REAR_LEFT).part
        garage.measured(part, {PartQuantity.TYRE_DIAMETER: "19.90"}, minutes=9)
    else:
        texts = {"axle_height_rear_left": "8.7"}
        store_geometry(car, texts, taken_with=None, act=builders.act(minutes=9))
    assert "clearance_rear" not in now(car).values


def test_guide_that_is_fitted_gives_the_cars_blade() -> None:
    builders.make_edition(garage.RULES)
    car = garage.make_car()
    assert "guide_depth" not in now(car).values
    sizes = {PartQuantity.GUIDE_DEPTH: "6.50", PartQuantity.GUIDE_WIDTH: "2.90"}
    guide = garage.measured(builders.make_part(GuideFacts(family="long post")), sizes)
    fit_part(car, guide, PartPosition.GUIDE, act=builders.act(minutes=5))
    values = now(car).values
    assert values["guide_depth"].value == pytest.approx(6.5)
    assert values["guide_width"].value == pytest.approx(2.9)
    assert now(car).tag(PartPosition.GUIDE) == guide.tag


def test_tonights_edition_counts_before_the_newest() -> None:
    first = builders.make_edition(garage.RULES)
    car = garage.make_car()
    builders.make_edition(garage.RULES[:1])
    assert [rule.number for rule in now(car).rules] == ["1"]
    builders.make_night(first)
    assert len(now(car).rules) == 4


def test_of_two_open_nights_the_later_counts() -> None:
    first = builders.make_edition(garage.RULES)
    car = garage.make_car()
    second = builders.make_edition(garage.RULES[:2])
    builders.make_edition(garage.RULES[:1])
    builders.make_night(second)
    builders.make_night(first)
    assert len(now(car).rules) == 4


def test_car_without_an_edition_has_no_rules() -> None:
    car = now(garage.make_car())
    assert car.edition is None
    assert car.rules == ()
    assert car.rulebook.count == 0
    assert car.envelope.limits("clearance_gear").given.tolist() == [False]


def test_many_cars_cost_as_many_queries_as_few(same_queries: QueryGrowth) -> None:
    # An edition is read once, by whoever asks first.
    load_edition(builders.make_edition(garage.RULES))

    def add(count: int) -> None:
        for _ in range(count):
            builders.make_car(geometry={"weight_car": "90"})

    same_queries(lambda: load_cars(Car.objects.all()), add, at_most=8)


def test_car_is_the_same_alone_and_among_others() -> None:
    builders.make_edition(garage.RULES)
    cars = [garage.make_car(), garage.make_car(room={})]
    together = {car.car.pk: car for car in load_cars(Car.objects.all())}
    for car in cars:
        alone = now(car)
        assert together[car.pk].values == alone.values
        assert together[car.pk].room_mm == alone.room_mm
        assert replace(together[car.pk], car=alone.car).fitted == alone.fitted
