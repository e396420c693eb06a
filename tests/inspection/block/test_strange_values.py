"""A value that is another tyre's is asked about, and written when it is right."""

import pytest

from inspection.actions.readings import strike_reading
from inspection.compute.night import PartPosition
from inspection.models import Car, Sheet, SheetReading
from inventory.actions.readings import record_part_readings
from inventory.compute.stock import PartQuantity
from inventory.loaders.gauges import load_gauges
from inventory.models import GaugeMode, Part
from tests import builders
from tests.builders import rule

pytestmark = pytest.mark.django_db
LEFT, RIGHT = "tyre_diameter_rear_left", "tyre_diameter_rear_right"
RULES = (
    rule("1", "tyre_diameter_rear", lower=18),
    rule("2", "tyre_diameter_front", lower=18),
    rule("3", "wheelbase", lower=80),
)


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def car() -> Car:
    return builders.make_car()


def tyre(car: Car, position: PartPosition, text: str, caliper: GaugeMode) -> Part:
    part = builders.make_part()
    record_part_readings(
        part,
        PartQuantity.TYRE_DIAMETER,
        [text],
        gauge=load_gauges(builders.NOW, pk=caliper.pk)[0],
        act=builders.act(),
    )
    builders.fit(car, part, position)
    return part


def put_on_block(car: Car) -> Sheet:
    night = builders.make_night(builders.make_edition(RULES))
    return builders.make_sheet(entry=builders.make_entry(car=car, night=night))


def asked(sheet: Sheet, column: str, text: str, caliper: GaugeMode) -> str:
    taken = builders.read(sheet, column, text, gauge=caliper)
    assert (taken.reading is None) == (taken.question is not None)
    return taken.question.sentence if taken.question else ""


def test_another_tyres_value_is_asked_about(car: Car, caliper: GaugeMode) -> None:
    part = tyre(car, PartPosition.REAR_LEFT, "19.03", caliper)
    tyre(car, PartPosition.FRONT_RIGHT, "18.56", caliper)
    sheet = put_on_block(car)
    assert asked(sheet, RIGHT, "19.02", caliper) == ""
    assert asked(sheet, LEFT, "18.55", caliper) == (
        f"Tyre diameter, rear: 18.55; the fitted part {part.tag} has 19.03 mm, the "
        "other side has 19.02 mm, “Tyre diameter, front, right” has this value. "
        "Is it right?"
    )
    assert SheetReading.objects.count() == 1
    taken = builders.read(sheet, LEFT, "18.55", gauge=caliper, is_confirmed=True)
    assert taken.reading is not None
    assert taken.reading.was_asked_about
    strike_reading(
        sheet.number, taken.reading.pk, reason="the front tyre", act=builders.act()
    )
    assert asked(sheet, LEFT, "19.01", caliper) == ""


def test_a_worn_pair_is_asked_about_once(car: Car, caliper: GaugeMode) -> None:
    for position in (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT):
        tyre(car, position, "19.03", caliper)
    sheet = put_on_block(car)
    assert "the fitted part" in asked(sheet, LEFT, "18.50", caliper)
    builders.read(sheet, LEFT, "18.50", gauge=caliper, is_confirmed=True)
    assert asked(sheet, RIGHT, "18.52", caliper) == ""


def test_the_opposite_wheel_speaks_where_no_part_is_fitted(
    car: Car, caliper: GaugeMode
) -> None:
    sheet = put_on_block(car)
    assert asked(sheet, LEFT, "19.02", caliper) == ""
    assert asked(sheet, RIGHT, "18.55", caliper) == (
        "Tyre diameter, rear: 18.55; the other side has 19.02 mm. Is it right?"
    )


def test_the_sides_of_what_is_no_pair_of_parts_are_not_held_together(
    car: Car, caliper: GaugeMode
) -> None:
    sheet = put_on_block(car)
    assert asked(sheet, "wheelbase_left", "95.00", caliper) == ""
    assert asked(sheet, "wheelbase_right", "95.60", caliper) == ""


def test_the_last_reading_of_this_car_comes_before_its_parts(
    car: Car, caliper: GaugeMode
) -> None:
    tyre(car, PartPosition.REAR_LEFT, "19.03", caliper)
    sheet = put_on_block(car)
    builders.read(sheet, LEFT, "18.50", gauge=caliper, is_confirmed=True)
    assert asked(sheet, LEFT, "18.52", caliper) == ""
    assert "the last reading of this car was 18.51 mm" in asked(
        sheet, LEFT, "19.03", caliper
    )


def test_slip_of_the_decimal_inside_the_range_is_told_by_the_class(
    caliper: GaugeMode,
) -> None:
    # 0.13 mm under the rear is possible, and 1.3 what the class has.
    over = rule("1", "clearance_least", lower=0.1)
    night = builders.make_night(builders.make_edition([over]))
    scrutineer = builders.make_scrutineer()
    for hundredths in (118, 121, 125, 126, 130, 131, 135, 140):
        sheet = builders.make_sheet(
            entry=builders.make_entry(night=night), by=scrutineer
        )
        said = asked(sheet, "clearance_least", f"{hundredths / 100}", caliper)
        assert said == ""
        builders.seal_as_read(sheet, by=scrutineer, passed=True)
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    taken = builders.read(sheet, "clearance_least", "0.13", gauge=caliper)
    assert taken.question is not None
    assert taken.question.suggestion == "1.30"
    assert "others of the class have 0.78 to 2.11 mm" in taken.question.sentence
    assert asked(sheet, "clearance_least", "0.95", caliper) == ""
    # Said to be right it is written, and what is like it is asked about no more.
    builders.read(sheet, "clearance_least", "0.13", gauge=caliper, is_confirmed=True)
    assert asked(sheet, "clearance_least", "0.14", caliper) == ""
