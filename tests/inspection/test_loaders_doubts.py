"""A gauge that fails puts in doubt what it read since its last good check."""

import datetime as dt

import pytest
from django.test import Client

from inspection.actions.readings import strike_reading
from inspection.loaders.doubts import doubtful_gauges, sheets_in_doubt
from inspection.models import Sheet
from inventory.compute.instruments import CheckResult
from inventory.models import GaugeMode
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def sheet(caliper: GaugeMode) -> Sheet:
    made = builders.make_sheet()
    builders.read(made, "tyre_diameter_rear_left", "18.5", gauge=caliper)
    return made


def check(caliper: GaugeMode, result: CheckResult, *, minutes: int) -> None:
    at = builders.NOW + dt.timedelta(minutes=minutes)
    builders.check(caliper.gauge, result, at=at)


def test_readings_before_a_failed_check_are_in_doubt(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    assert not sheets_in_doubt(caliper.gauge)
    check(caliper, CheckResult.FAILED, minutes=30)
    found = sheets_in_doubt(caliper.gauge)
    assert [(one.sheet, one.count, one.is_sealed) for one in found] == [
        (sheet, 1, False)
    ]
    assert doubtful_gauges(sheet) == [caliper.gauge.name]


def test_good_check_in_between_clears_them(sheet: Sheet, caliper: GaugeMode) -> None:
    check(caliper, CheckResult.PASSED, minutes=20)
    check(caliper, CheckResult.FAILED, minutes=30)
    assert not sheets_in_doubt(caliper.gauge)


def test_struck_reading_is_in_no_doubt(sheet: Sheet, caliper: GaugeMode) -> None:
    check(caliper, CheckResult.FAILED, minutes=30)
    reading = sheet.readings.get()
    strike_reading(sheet.number, reading.pk, reason="gauge failed", act=builders.act())
    assert not doubtful_gauges(sheet)


def test_gauge_page_lists_the_sheets_and_they_say_so(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    check(caliper, CheckResult.FAILED, minutes=30)
    client = Client()
    client.force_login(builders.make_scrutineer())
    page = client.get(f"/gauges/{caliper.gauge_id}").content.decode()
    assert "In doubt" in page
    assert sheet.number in page
    record = client.get(f"/sheet/{sheet.number}").content.decode()
    assert f"{caliper.gauge.name} failed the next check" in record
    assert "To the block" in record
