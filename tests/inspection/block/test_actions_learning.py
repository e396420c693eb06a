"""Parts learn from a sealed sheet: a worn tyre is not paired at its old size."""

import pytest

from inspection.actions.seals import seal_sheet
from inspection.compute.night.entries import Decision, PartPosition
from inspection.compute.quantities.sources import Source
from inspection.compute.rulebooks.requirements import Answer, Evidence
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Sheet
from inventory.actions.readings import record_part_readings
from inventory.compute.measuring import Instrument
from inventory.compute.stock import GearFacts
from inventory.compute.stock.words import GearRole, PartQuantity
from inventory.loaders.gauges import load_gauges
from inventory.models import GaugeMode, Part, PartEstimate, PartReading
from tests import builders
from tests.inventory.compute.gears.outlines import tip_points, widths

pytestmark = pytest.mark.django_db


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def tyre(caliper: GaugeMode) -> Part:
    part = builders.make_part()
    record_part_readings(
        part,
        PartQuantity.TYRE_DIAMETER,
        ["19.0"],
        gauge=load_gauges(builders.NOW, pk=caliper.pk)[0],
        act=builders.act(),
    )
    return part


@pytest.fixture
def sheet(tyre: Part) -> Sheet:
    car = builders.make_car()
    builders.fit(car, tyre, PartPosition.REAR_LEFT)
    return builders.make_sheet(entry=builders.make_entry(car=car))


def test_fitted_part_gives_its_size_until_the_block_has_read_it(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    before = load_sheet(sheets_to_load().get(pk=sheet.pk)).values
    assert before["tyre_diameter_rear_left"].source is Source.FITTED_PART
    assert before["tyre_diameter_rear_left"].value == pytest.approx(19.0)
    builders.read(sheet, "tyre_diameter_rear_left", "18.6", gauge=caliper)
    after = load_sheet(sheets_to_load().get(pk=sheet.pk)).values
    assert after["tyre_diameter_rear_left"].source is Source.TAKEN


def test_seal_tells_the_part_its_new_size(
    sheet: Sheet, tyre: Part, caliper: GaugeMode
) -> None:
    for text in ("18.60", "18.62"):
        builders.read(sheet, "tyre_diameter_rear_left", text, gauge=caliper)
    builders.read(sheet, "tyre_diameter_rear_right", "18.5", gauge=caliper)
    builders.send_back(sheet.number, act=builders.act())
    now = PartEstimate.objects.current().get(part=tyre)
    assert now.value == 18_610_000
    assert now.count == 2
    assert now.source == f"sheet {sheet.number}"
    assert PartEstimate.objects.filter(part=tyre).count() == 2
    texts = PartReading.objects.filter(estimate=now).values_list("text", flat=True)
    assert list(texts) == ["18.60", "18.62"]


def test_part_that_was_not_read_learns_nothing(sheet: Sheet, tyre: Part) -> None:
    builders.send_back(sheet.number, act=builders.act())
    assert PartEstimate.objects.get(part=tyre).value == 19_000_000


@pytest.mark.parametrize("teeth", [45, 44])
def test_gear_is_judged_and_learnt_at_its_true_diameter(
    caliper: GaugeMode, teeth: int
) -> None:
    """Every caliper reading over teeth is corrected where their count is odd."""
    gear = builders.make_part(
        GearFacts(role=GearRole.SPUR, teeth=teeth, pitch_name="64 pitch")
    )
    car = builders.make_car()
    builders.fit(car, gear, PartPosition.GEAR)
    edition = builders.make_edition([builders.rule("1", "gear_diameter", upper=19)])
    night = builders.make_night(edition)
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night))
    builders.read(sheet, "gear_diameter", "18.63", gauge=caliper)
    # A gear of as many teeth, outlined and turned between the jaws.
    read = widths(tip_points(teeth=teeth, module=1.0), teeth=teeth)
    true = 18.63 * (teeth + 2) / (read.min() if teeth % 2 else read.max())
    values = load_sheet(sheets_to_load().get(pk=sheet.pk)).values
    assert values["gear_diameter"].value == pytest.approx(true, abs=1e-5)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act())
    learnt = PartEstimate.objects.current().get(part=gear).value
    assert learnt == round(values["gear_diameter"].value * 1e6)
    sealed = load_sheet(sheets_to_load().get(pk=sheet.pk)).values
    # A seal keeps millionths, and is not corrected a second time.
    assert sealed["gear_diameter"].value == pytest.approx(true, abs=1e-5)


@pytest.mark.parametrize("evidence", list(Evidence))
def test_what_a_fitted_part_keeps_is_asked_only_where_a_rule_wants_it_taken(
    tyre: Part, caliper: GaugeMode, evidence: Evidence
) -> None:
    record_part_readings(
        tyre,
        PartQuantity.TYRE_WIDTH,
        ["10.8"],
        gauge=load_gauges(builders.NOW, pk=caliper.pk)[0],
        act=builders.act(),
    )
    car = builders.make_car()
    builders.fit(car, tyre, PartPosition.REAR_LEFT)
    rules = [
        builders.rule("1", "tyre_width_rear", upper=11, evidence=evidence),
        builders.rule("2", "tyre_diameter_rear", lower=18),
    ]
    night = builders.make_night(builders.make_edition(rules))
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night))
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    # A diameter wears in a night: it is asked whatever the part was.
    diameters = {"tyre_diameter_rear_left", "tyre_diameter_rear_right"}
    width = {"tyre_width_rear"} if evidence is Evidence.TAKEN_ONLY else set()
    assert set(loaded.to_take.tonight) == diameters | width
    assert {"tyre_width_rear"} - width == set(loaded.to_take.stored)
    builders.read(sheet, "tyre_width_rear", "10.9", gauge=caliper)
    after = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert after.values["tyre_width_rear"].source is Source.TAKEN


def test_part_learns_the_middle_of_two_slips_and_nothing_of_one(
    sheet: Sheet, tyre: Part
) -> None:
    plates = builders.make_gauge(instrument=Instrument.GO_PLATE)
    builders.read(
        sheet, "tyre_diameter_rear_left", "18.5", high_text="18.7", gauge=plates
    )
    builders.send_back(sheet.number, act=builders.act())
    now = PartEstimate.objects.current().get(part=tyre)
    assert now.value == 18_600_000
    # A flat spread of 0.2: 0.2 / √12, JCGM 100:2008, 4.3.7.
    assert now.random == pytest.approx(57_735, abs=1)
    only = PartReading.objects.get(estimate=now)
    assert (only.value, only.text) == (18_600_000, "18.5 to 18.7")


def test_slip_that_went_is_no_size_of_a_part(sheet: Sheet, tyre: Part) -> None:
    plates = builders.make_gauge(instrument=Instrument.GO_PLATE)
    builders.read(
        sheet, "tyre_diameter_rear_left", "18.5", answer=Answer.YES, gauge=plates
    )
    builders.send_back(sheet.number, act=builders.act())
    assert PartEstimate.objects.get(part=tyre).value == 19_000_000
