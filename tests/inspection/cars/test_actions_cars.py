"""Cars: registering, stored geometry, parts fitted and taken off."""

from importlib import import_module

import pytest
from django.apps import apps

from inspection.actions.cars import (
    CarFacts,
    TakenWith,
    register_car,
    store_geometry,
)
from inspection.actions.fit.fitted import fit_part, remove_part
from inspection.compute.night.entries import PartPosition
from inspection.compute.quantities.quantity import FrontCarrier, Layout
from inspection.compute.quantities.sources import Source
from inspection.loaders.block.values import stored_values
from inspection.models import Car, Entry, FittedPart
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import NewPart, move_part, receive_part
from inventory.compute.stock import TyreFacts
from inventory.compute.stock.tags import make_tag, read_tag
from inventory.compute.stock.words import Move, PartState
from inventory.models import Part, PartMove
from tests import builders

pytestmark = pytest.mark.django_db

filled = import_module("inspection.migrations.0011_fill_car_tags")


@pytest.fixture
def car() -> Car:
    return builders.make_car()


@pytest.fixture
def tyre() -> Part:
    return receive_part(NewPart(facts=TyreFacts(compound="soft")), act=builders.act())


def test_cars_of_one_number_have_tags_of_their_own(car: Car) -> None:
    other = register_car(
        CarFacts(
            number=car.number,
            name="Another",
            owner=car.owner,
            race_class=car.race_class,
            layout=Layout.IN_LINE,
            front_carrier=FrontCarrier.GUIDE,
        ),
        act=builders.act(),
    )
    assert other.number == car.number
    assert {one.tag for one in Car.objects.all()} == {car.tag, other.tag}
    assert car.tag != other.tag
    assert all(read_tag(tag)[0] == "C" for tag in (car.tag, other.tag))


def test_migration_gives_the_tag_that_registering_gives() -> None:
    """Told by hand in the migration, for it may not import; the same signs here."""
    entry = builders.make_entry()
    car, tag = entry.car, entry.car.tag
    Car.objects.filter(pk=car.pk).update(tag="none yet")
    Entry.objects.filter(pk=entry.pk).update(number="none yet")
    filled.fill(apps, None)
    entry.refresh_from_db()
    assert (entry.car.tag, entry.number) == (tag, car.number)
    for number in (0, 1, 30, 31, 961, 999, 923_520, 923_521, 30_000_000):
        assert filled.tag_of(number) == make_tag("C", number)


def test_geometry_is_superseded_and_kept(car: Car) -> None:
    for text in ("96.2", "96.4"):
        store_geometry(
            car, {"wheelbase_left": text}, taken_with=None, act=builders.act()
        )
    assert builders.sizes_of_cars().count() == 2
    value = stored_values(car)["wheelbase_left"]
    assert value.value == pytest.approx(96.4)
    assert value.source is Source.DECLARED
    assert value.systematic == 0


def test_geometry_off_a_gauge_carries_its_error(car: Car) -> None:
    gauge = builders.make_gauge()
    store_geometry(
        car,
        {"wheelbase_left": "96.2"},
        taken_with=TakenWith(gauge_mode=gauge, gauge_check=gauge.gauge.checks.get()),
        act=builders.act(builders.make_scrutineer()),
    )
    value = stored_values(car)["wheelbase_left"]
    assert value.source is Source.STORED
    # Rectangular, half-width 0.02 mm: JCGM 100 4.3.7 (C2-01).
    assert value.systematic == pytest.approx(0.01154701, abs=1e-8)


@pytest.mark.parametrize(
    ("texts", "code", "field"),
    [
        ({"colour": "1"}, "column_unknown", "colour"),
        ({"wheelbase_left": "9x"}, None, "wheelbase_left"),
        ({"layout": "across"}, "word_unknown", "layout"),
        ({"wheelbase_left": "96", "wheelbase_right": ""}, None, "wheelbase_right"),
    ],
)
def test_geometry_that_is_wrong_stores_nothing(
    car: Car, texts: dict[str, str], code: str | None, field: str
) -> None:
    with pytest.raises(RefusedError) as refusal:
        store_geometry(car, texts, taken_with=None, act=builders.act())
    assert refusal.value.field == field
    assert code is None or refusal.value.code == code
    assert not builders.sizes_of_cars().exists()


def test_declared_word_is_stored(car: Car) -> None:
    store_geometry(car, {"layout": "sidewinder"}, taken_with=None, act=builders.act())
    assert stored_values(car)["layout"].text == "sidewinder"


def test_fitted_part_leaves_stock_and_what_sat_there_comes_back(
    car: Car, tyre: Part
) -> None:
    other = receive_part(NewPart(facts=TyreFacts()), act=builders.act())
    fit_part(car, tyre, PartPosition.REAR_LEFT, act=builders.act())
    fit_part(car, other, PartPosition.REAR_LEFT, act=builders.act())
    assert Part.objects.get(pk=tyre.pk).state == PartState.IN_STOCK
    assert Part.objects.get(pk=other.pk).state == PartState.ON_CAR
    assert FittedPart.objects.filter(removed_at=None).get().part == other
    moves = PartMove.objects.filter(part=tyre).values_list("move", flat=True)
    assert list(moves) == [
        Move.RECEIVE,
        Move.FIT,
        Move.TAKE_OFF,
        Move.TAKE_BACK,
    ]


def test_part_on_one_car_cannot_be_fitted_to_another(car: Car, tyre: Part) -> None:
    fit_part(car, tyre, PartPosition.REAR_LEFT, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        fit_part(builders.make_car(), tyre, PartPosition.REAR_LEFT, act=builders.act())
    assert refusal.value.code == "part_not_free"
    assert tyre.tag in refusal.value.sentence
    assert FittedPart.objects.count() == 1


def test_part_is_taken_off_once(car: Car, tyre: Part) -> None:
    fitted = fit_part(car, tyre, PartPosition.REAR_LEFT, act=builders.act())
    remove_part(fitted, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        remove_part(fitted, act=builders.act())
    assert refusal.value.code == "removed_already"


def test_retired_part_is_fitted_nowhere(car: Car, tyre: Part) -> None:
    move_part(tyre, Move.RETIRE, act=builders.act())
    with pytest.raises(RefusedError):
        fit_part(car, tyre, PartPosition.REAR_LEFT, act=builders.act())
    assert not FittedPart.objects.exists()
