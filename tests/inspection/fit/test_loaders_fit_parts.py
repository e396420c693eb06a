"""Parts of the inventory as tables: pitches as recorded, as measured, or not known."""

import math

import numpy as np
import pytest

from inspection.compute.fit import Check, gear_fit
from inspection.compute.night.entries import PartPosition
from inspection.compute.quantities.quantity import Layout
from inspection.loaders.fit.cars import load_cars
from inspection.loaders.fit.parts import (
    gears_of,
    load_columns,
    modules_of,
    motors_of,
    named_module_mm,
    pinions_of,
)
from inspection.loaders.fit.tyre_pairs import pairs_of
from inspection.models import Car
from inventory.compute.stock import GearFacts
from inventory.compute.stock.words import GearRole, PartKind, PartQuantity
from inventory.models import Part
from tests import builders
from tests.inspection import garage

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("name", "module_mm"),
    [
        ("64 pitch", 25.4 / 64),
        ("module 0.4", 0.4),
        ("Module 0,4", 0.4),
        ("module .55", 0.55),
        ("40 pitch", 0.635),
        # As tables have them: a column of such words is taken for pitches.
        ("64DP", 25.4 / 64),
        ("m0.5", 0.5),
        ("mod. 0,4", 0.4),
        ("0 pitch", math.nan),
        ("module 0", math.nan),
        ("fine", math.nan),
        ("", math.nan),
    ],
)
def test_pitch_is_read_as_it_is_recorded(name: str, module_mm: float) -> None:
    np.testing.assert_allclose(named_module_mm(name), module_mm)


def test_gear_without_a_recorded_pitch_gets_it_from_its_size_or_not_at_all() -> None:
    # 42 x 25.4 / 64 = 16.67, and 42 x 0.4 = 16.80; of 8 teeth both are within 0.03.
    sure = garage.gear(40, "16.67", pitch="")
    doubtful = garage.gear(8, "3.98", pitch="")
    crown = garage.gear(28, "11.91", pitch="", role=GearRole.CROWN)
    bare = builders.make_part(GearFacts(role=GearRole.SPUR, teeth=28))
    columns = load_columns(Part.objects.all(), PartKind.GEAR)
    assert columns.pk.tolist() == [sure.pk, doubtful.pk, crown.pk, bare.pk]
    found = modules_of(columns)
    np.testing.assert_allclose(found, [25.4 / 64, np.nan, np.nan, np.nan])


def test_sizes_that_nobody_took_are_not_known() -> None:
    garage.gear(28, "15.00", hub="")
    table = gears_of(load_columns(Part.objects.all(), PartKind.GEAR))
    assert table.outside_diameter_mm.tolist() == [15.0]
    assert np.isnan([table.hub_width_mm[0], table.mass_g[0]]).all()


def test_only_the_current_size_counts() -> None:
    part = garage.gear(28, "15.00")
    garage.measured(part, {PartQuantity.GEAR_DIAMETER: "14.96"}, minutes=1)
    table = gears_of(load_columns(Part.objects.all(), PartKind.GEAR))
    assert table.outside_diameter_mm.tolist() == [14.96]


def test_parts_off_the_cars_own_gauge_share_its_number() -> None:
    garage.motor()
    gauge = garage.caliper()
    key = gauge.mode.gauge_id, gauge.check_id
    columns = load_columns(Part.objects.all(), PartKind.MOTOR, gauges={key: 3})
    height = motors_of(columns).doubt("can_height_mm")
    assert height.gauge.tolist() == [3]
    # Permissible error 0.02, rectangular.
    assert height.systematic[0] == pytest.approx(0.02 / math.sqrt(3), abs=1e-6)
    numbers: dict[tuple[int, int | None], int] = {(0, None): 3}
    other = load_columns(Part.objects.all(), PartKind.MOTOR, gauges=numbers)
    assert motors_of(other).doubt("can_height_mm").gauge.tolist() == [4]
    # What is loaded next is not to have its number for another gauge.
    assert numbers[key] == 4


def test_each_size_has_its_own_doubt() -> None:
    motor = garage.motor()
    garage.measured(motor, {PartQuantity.CAN_WIDTH: "20.1"}, minutes=1)
    numbers: dict[tuple[int, int | None], int] = {}
    table = motors_of(load_columns(Part.objects.all(), PartKind.MOTOR, gauges=numbers))
    assert table.doubt("can_width_mm").systematic[0] > 0
    # Nobody has run it.
    assert np.isnan(table.speed_rpm[0])
    assert table.doubt("speed_rpm").systematic[0] == 0


def test_bores_and_shafts_come_with_their_doubt() -> None:
    """Of tyres that differ the looser bore counts, with its own doubt."""
    garage.gear(28, "15.00"), garage.pinion(9), garage.motor()
    tight, loose = garage.tyre("20.00"), garage.tyre("20.00", bore="2.42")
    parts = Part.objects.all()
    gears = gears_of(load_columns(parts, PartKind.GEAR, gauges={}))
    pinions = pinions_of(load_columns(parts, PartKind.GEAR, gauges={}))
    motors = motors_of(load_columns(parts, PartKind.MOTOR, gauges={}))
    tyres = load_columns(parts, PartKind.TYRE, gauges={})
    # Step 0.01 and 0.005 of error, flat both; repeatability as the kind declares it.
    flat = np.hypot(0.005 / 3**0.5, 0.005 / 3**0.5)
    for table, name, repeats in (
        (gears, "bore_mm", 0.005),
        (pinions, "bore_mm", 0.005),
        (motors, "shaft_diameter_mm", 0.002),
    ):
        np.testing.assert_allclose(
            table.u_of(name)[0], np.hypot(flat, repeats), rtol=0.01
        )
    pair = pairs_of(tyres, np.array([0]), np.array([1]))
    assert tyres.pk.tolist() == [tight.pk, loose.pk]
    assert pair.bore_mm.tolist() == [2.42]
    np.testing.assert_allclose(pair.u_of("bore_mm"), np.hypot(flat, 0.005), rtol=0.01)


def test_no_parts_make_an_empty_table() -> None:
    columns = load_columns(Part.objects.none(), PartKind.GEAR)
    assert len(columns) == 0
    assert gears_of(columns).row_count == 0


def test_crown_that_is_cut_for_another_pinion_does_not_fit() -> None:
    made = builders.make_car(layout=Layout.IN_LINE)
    builders.fit(made, garage.pinion(9), PartPosition.PINION)
    (car,) = load_cars(Car.objects.all())
    for teeth in (9, 10, None):
        builders.make_part(
            GearFacts(
                role=GearRole.CROWN,
                teeth=28,
                pitch_name="module 0.5",
                cut_for_teeth=teeth,
            )
        )
    crowns = Part.objects.filter(gear__role=GearRole.CROWN)
    table = gears_of(load_columns(crowns, PartKind.GEAR))
    np.testing.assert_array_equal(table.cut_for_teeth, [9, 10, np.nan])
    fit = gear_fit(table, car.envelope)
    said = [
        {row.check: row.state.value for row in fit.rows(at)}.get(Check.CROWN_CUT)
        for at in range(3)
    ]
    # One that is not said to be cut for any is taken to suit its family.
    assert said == ["holds", "fails", None]
