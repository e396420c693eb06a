"""
Queries that are compiled once give what the plain ones give, row by row.

Every one of the project is here: a new one is missed by the first test.
"""

import sys
from typing import Any

import pytest
from django.db.models import Model

from inspection.actions.readings import _LOCKED, strike_reading
from inspection.compute.night import PartPosition
from inspection.loaders.block.readings import _READINGS
from inspection.loaders.block.sheets import _OF_NUMBER
from inspection.loaders.block.values import _PARTS, _STORED
from inventory.compute.measuring import CheckResult
from inventory.loaders.gauges import _EVERY, _OF_MODE
from inventory.loaders.prepared import STAND_IN, Prepared, UnpreparedError
from inventory.models import Gauge, GaugeMode
from tests import builders

pytestmark = pytest.mark.django_db
EVERY = (_LOCKED, _OF_NUMBER, *_READINGS.values(), _PARTS, _STORED, _EVERY, _OF_MODE)


def said(row: Any, *above: Any) -> Any:
    """All that a row says, and the rows that it is joined to, but those above it."""
    if not isinstance(row, Model):
        return row
    joined = {
        name: said(one, row, *above)
        for name, one in row._state.fields_cache.items()
        if not any(one is other for other in above)
    }
    return {**vars(row), "_state": joined}


def test_every_prepared_query_is_looked_at_here() -> None:
    found = [
        one
        for name, module in list(sys.modules.items())
        if name.startswith(("inspection.", "inventory.", "deploy."))
        for thing in vars(module).values()
        for one in (thing.values() if isinstance(thing, dict) else [thing])
        if isinstance(one, Prepared)
    ]
    assert {id(one) for one in found} == {id(one) for one in EVERY}


def test_rows_are_those_of_the_plain_query() -> None:
    scrutineer = builders.make_scrutineer()
    caliper = builders.make_gauge(at=builders.now())
    slips = builders.make_gauge(at=builders.now())
    car = builders.make_car(geometry={"wheelbase_left": "98.2"}, gauge=caliper)
    builders.fit(car, builders.make_part(), PartPosition.REAR_LEFT)
    entry = builders.make_entry(car=car)
    first = builders.make_sheet(entry=entry, by=scrutineer)
    for text in ("18.4", "18.45"):
        taken = builders.read(first, "tyre_diameter_rear_left", text, gauge=caliper)
    builders.read(first, "tyre_diameter_rear_right", "18.4", gauge=slips)
    assert taken.reading is not None
    strike_reading(
        first.number, taken.reading.pk, reason="misread", act=builders.act(scrutineer)
    )
    later = builders.act(minutes=9).at
    builders.check(caliper.gauge, CheckResult.FAILED, at=later)
    other = builders.make_sheet(by=scrutineer)
    builders.read(other, "tyre_diameter_rear_left", "18.9", gauge=slips)

    def compare(prepared: Prepared[Any], *given: int | str) -> list[Any]:
        for _ in range(2):
            rows = prepared.rows(*given)
            assert [said(one) for one in rows] == [
                said(one) for one in prepared.plain(*given)
            ]
        return rows

    readings = compare(_READINGS[1], first.pk)
    assert len(readings) == 3
    # Of two rows of one gauge the gauge is one object, and there is no third.
    assert readings[0].gauge_mode is readings[1].gauge_mode is not None
    assert readings[0].gauge_mode is not readings[2].gauge_mode
    assert readings[1].strike.by == scrutineer
    assert not hasattr(readings[0], "strike")
    assert len(compare(_READINGS[1], other.pk)) == 1
    assert len(compare(_READINGS[2], first.pk, other.pk)) == 4
    assert compare(_OF_NUMBER, first.number)[0].entry.car == car
    assert compare(_OF_NUMBER, "no such sheet") == []
    assert compare(_LOCKED, first.number) == [{"pk": first.pk}]
    assert compare(_LOCKED, "no such sheet") == []
    assert len(compare(_STORED, car.pk)) > 1
    assert compare(_PARTS, first.pk)[0]["position"] == PartPosition.REAR_LEFT
    assert len(compare(_EVERY)) == 2
    assert compare(_OF_MODE, slips.pk)[0].gauge == slips.gauge


def test_a_query_without_its_parameter_is_not_prepared() -> None:
    with pytest.raises(UnpreparedError):
        Prepared[Gauge](lambda name: Gauge.objects.all(), STAND_IN).rows(1)


def test_a_parameter_stands_wherever_it_did() -> None:
    gauge = builders.make_gauge(at=builders.now())
    asked = Prepared[GaugeMode](
        lambda pk: GaugeMode.objects.filter(pk=pk, gauge__modes=pk), STAND_IN
    )
    assert asked.rows(gauge.pk) == [gauge]
    assert asked.rows(gauge.pk + 1) == []


def test_what_is_put_onto_a_row_is_not_there_the_next_time() -> None:
    gauge = builders.make_gauge(at=builders.now())
    sheet = builders.make_sheet(by=builders.make_scrutineer())
    taken = builders.read(sheet, "tyre_diameter_rear_left", "18.4", gauge=gauge)
    assert taken.reading is not None
    query = _READINGS[1]
    first = query.rows(sheet.pk)[0]
    first.note_of_one_request = "here"  # type: ignore[attr-defined]
    first.by.name = "somebody else"
    again = query.rows(sheet.pk)[0]
    assert again is not first
    assert not hasattr(again, "note_of_one_request")
    assert again.by.name == taken.reading.by.name
    assert said(again) == said(query.plain(sheet.pk)[0])


def test_changed_row_is_not_taken_for_the_one_that_was_there_before() -> None:
    scrutineer = builders.make_scrutineer()
    gauge = builders.make_gauge(at=builders.now())
    sheet = builders.make_sheet(by=scrutineer)
    taken = builders.read(sheet, "tyre_diameter_rear_left", "18.4", gauge=gauge)
    assert taken.reading is not None
    query = _READINGS[1]
    assert not hasattr(query.rows(sheet.pk)[0], "strike")
    strike_reading(
        sheet.number, taken.reading.pk, reason="misread", act=builders.act(scrutineer)
    )
    assert query.rows(sheet.pk)[0].strike.reason == "misread"
