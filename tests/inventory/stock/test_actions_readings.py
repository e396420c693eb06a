"""Readings of parts off the car, through the action, on a real database."""

import math

import pytest

from inventory.actions.readings import record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import NewPart, receive_part
from inventory.compute.measuring.instruments import CheckResult
from inventory.compute.numbers.units import Unit
from inventory.compute.stock import PART_SCALES, GearFacts, TyreFacts
from inventory.compute.stock.words import GearRole, PartQuantity
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.models import AuditRow, GaugeMode, Part, PartEstimate, PartReading
from tests.builders import NOW, act, make_gauge

pytestmark = pytest.mark.django_db


def loaded(mode: GaugeMode) -> LoadedGauge:
    return load_gauges(NOW, pk=mode.pk)[0]


def make_tyre() -> Part:
    return receive_part(NewPart(facts=TyreFacts(compound="A")), act=act())


def test_every_quantity_of_a_part_has_a_scale() -> None:
    assert set(PART_SCALES) == set(PartQuantity)
    assert all(scale.repeatability > 0 for scale in PART_SCALES.values())


def test_a_set_of_readings_is_one_estimate_with_its_uncertainty() -> None:
    tyre, gauge = make_tyre(), loaded(make_gauge())
    made = record_part_readings(
        tyre,
        PartQuantity.TYRE_DIAMETER,
        ["18.42", "18,44", "0.7252in"],
        gauge=gauge,
        act=act(),
    )
    # By hand: 0.7252 in is 18.42008 mm; the mean of the three.
    assert made.value == round((18_420_000 + 18_440_000 + 18_420_080) / 3)
    # The rubber's 0.03 over √3, the caliper's step of 0.01 over √12 beside it, and of
    # the usual form, half of 0.05, what 10° of placing leave: 2 · 0.1745/√3 over √2.
    form = 0.025 * 2 * math.radians(10) / 3**0.5 / 2**0.5
    scatter = math.hypot(0.03 / 3**0.5, 0.01 / 12**0.5)
    assert made.random == round(1e6 * math.hypot(scatter, form))
    assert made.systematic == round(1e6 * 0.02 / 3**0.5)
    assert (made.count, made.gauge_check_id) == (3, gauge.check_id)
    texts = [(row.text, row.unit_typed) for row in made.readings.all()]
    assert texts == [("18.42", ""), ("18,44", ""), ("0.7252in", "in")]
    assert AuditRow.objects.filter(event="part.measured", subject=str(tyre)).exists()


def test_a_newer_set_supersedes_the_one_before() -> None:
    tyre, gauge = make_tyre(), loaded(make_gauge())
    quantity = PartQuantity.TYRE_DIAMETER
    first = record_part_readings(tyre, quantity, ["18.42"], gauge=gauge, act=act())
    second = record_part_readings(
        tyre, quantity, ["18.31"], gauge=gauge, act=act(minutes=5)
    )
    first.refresh_from_db()
    assert first.superseded_at == act(minutes=5).at
    assert list(tyre.estimates.current()) == [second]


def test_the_same_set_sent_twice_is_one() -> None:
    tyre, gauge = make_tyre(), loaded(make_gauge())
    one, two = (
        record_part_readings(
            tyre, PartQuantity.TYRE_WIDTH, ["10.2"], gauge=gauge, act=act()
        )
        for _ in range(2)
    )
    assert one == two
    assert PartReading.objects.count() == 1


def test_an_odd_gear_is_given_the_diameter_over_its_tips() -> None:
    facts = GearFacts(role=GearRole.PINION, teeth=11, pitch_name="48 pitch")
    gear = receive_part(NewPart(facts=facts), act=act())
    made = record_part_readings(
        gear,
        PartQuantity.GEAR_DIAMETER,
        ["6.740"],
        gauge=loaded(make_gauge()),
        act=act(),
    )
    # C5-41: a reading of 6.740 over 11 teeth is 6.837 over the tips; by pointed teeth
    # it would be 6.879, and 0.577 of the difference is in doubt.
    assert made.value / 1e6 == pytest.approx(6.837, abs=0.0005)
    assert made.random / 1e6 >= 0.577 * 0.042 - 0.0005


@pytest.mark.parametrize(
    ("texts", "code", "field"),
    [
        ([], "no_reading", "texts"),
        (["0"], "not_a_size", "texts"),
        (["18.4", "-18.4"], "not_a_size", "texts"),
        (["l8.4"], None, "texts"),
    ],
)
def test_what_is_no_size_is_refused_and_nothing_written(
    texts: list[str], code: str | None, field: str
) -> None:
    tyre, gauge = make_tyre(), loaded(make_gauge())
    with pytest.raises(RefusedError) as refusal:
        record_part_readings(
            tyre, PartQuantity.TYRE_DIAMETER, texts, gauge=gauge, act=act()
        )
    assert code in {None, refusal.value.code}
    assert refusal.value.field == field
    assert not PartEstimate.objects.exists()
    assert not PartReading.objects.exists()


@pytest.mark.parametrize(
    ("gauge", "code"),
    [
        ({"unit": Unit.GRAM}, "gauge_of_other_unit"),
        ({"checked": CheckResult.FAILED}, "gauge_barred"),
        ({"checked": None}, "gauge_barred"),
    ],
)
def test_a_gauge_that_may_not_be_used_is_refused(
    gauge: dict[str, object], code: str
) -> None:
    tyre = make_tyre()
    with pytest.raises(RefusedError) as refusal:
        record_part_readings(
            tyre,
            PartQuantity.TYRE_DIAMETER,
            ["18.42"],
            gauge=loaded(make_gauge(**gauge)),  # type: ignore[arg-type]
            act=act(),
        )
    assert refusal.value.code == code
    assert not PartEstimate.objects.exists()


def test_a_taper_may_be_below_zero() -> None:
    made = record_part_readings(
        make_tyre(),
        PartQuantity.TAPER,
        ["-0.04"],
        gauge=loaded(make_gauge()),
        act=act(),
    )
    assert made.value == -40_000
