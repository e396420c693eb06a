"""A gauge that fails puts in doubt what it read since its last good check."""

import datetime as dt
import random
from collections import Counter

import pytest
from django.test import Client

from inspection.actions.race_nights import call_back
from inspection.actions.readings import strike_reading
from inspection.actions.sheets import start_sheet
from inspection.compute.asking import Area
from inspection.loaders.block.doubts import (
    DoubtfulSheet,
    doubtful_readings,
    doubts_of,
    name_sheets,
    sheets_in_doubt,
)
from inspection.models import Sheet
from inspection.templatetags.doubts import SHEETS_A_PAGE
from inventory.compute.measuring import GaugeStanding
from inventory.compute.measuring.instruments import CheckResult
from inventory.compute.roles import Role
from inventory.loaders.gauges import load_gauges
from inventory.models import GaugeCheck, GaugeMode
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


def in_doubt(caliper: GaugeMode) -> list[DoubtfulSheet]:
    return name_sheets(sheets_in_doubt(caliper.gauge))


def test_readings_before_a_failed_check_are_in_doubt(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    assert not in_doubt(caliper)
    check(caliper, CheckResult.FAILED, minutes=30)
    found = in_doubt(caliper)
    assert [(one.sheet, one.count, one.is_sealed) for one in found] == [
        (sheet, 1, False)
    ]
    assert [one.gauge for one in doubts_of(sheet.pk)[sheet.pk]] == [caliper.gauge.name]


def test_good_check_in_between_clears_them(sheet: Sheet, caliper: GaugeMode) -> None:
    check(caliper, CheckResult.PASSED, minutes=20)
    check(caliper, CheckResult.FAILED, minutes=30)
    assert not in_doubt(caliper)


def test_struck_reading_is_in_no_doubt(sheet: Sheet, caliper: GaugeMode) -> None:
    check(caliper, CheckResult.FAILED, minutes=30)
    reading = sheet.readings.get()
    strike_reading(sheet.number, reading.pk, reason="gauge failed", act=builders.act())
    assert not doubts_of(sheet.pk)


def test_a_struck_check_counts_for_nothing_and_what_rests_on_it_is_found_anew(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    keeper = builders.make_person(Role.PARTS_KEEPER)
    client = Client()
    client.force_login(keeper)
    check(caliper, CheckResult.PASSED, minutes=20)
    check(caliper, CheckResult.FAILED, minutes=30)
    later = builders.NOW + dt.timedelta(minutes=40)
    failed, passed = caliper.gauge.checks.all()[:2]
    assert load_gauges(later, pk=caliper.pk)[0].standing is GaugeStanding.FAILED
    assert not in_doubt(caliper)
    assert client.post(_strike(passed), {"reason": "no"}).status_code == 422
    client.post(_strike(passed), {"reason": "typed for another gauge"})
    # The good check in between was none: what was read before it is in doubt.
    assert [one.sheet for one in in_doubt(caliper)] == [sheet]
    assert [one.check_id for one in doubts_of(sheet.pk)[sheet.pk]] == [failed.pk]
    client.post(_strike(failed), {"reason": "a digit was mistyped"})
    assert not in_doubt(caliper)
    assert not doubts_of(sheet.pk)
    assert load_gauges(later, pk=caliper.pk)[0].standing is not GaugeStanding.FAILED
    page = client.get(f"/gauges/{caliper.gauge_id}").content.decode()
    assert page.count("struck by") == 2
    assert "a digit was mistyped" in page
    said = client.post(_strike(failed), {"reason": "a digit was mistyped"})
    assert "is struck" in said.content.decode()
    assert caliper.gauge.checks.count() == 3


def _strike(check: GaugeCheck) -> str:
    return f"/gauges/checks/{check.pk}/strike"


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
    assert f"{caliper.gauge.name} failed its next check" in record
    assert "To the block" in record


@pytest.mark.parametrize("seed", range(6))
def test_going_back_from_failed_checks_finds_what_each_reading_tells(
    caliper: GaugeMode, seed: int
) -> None:
    """
    Against the other way: of each reading by itself, how its next check went.

    Minutes are few, so that checks and readings often fall on the same one.
    """
    rng = random.Random(seed)
    sheets = [builders.make_sheet() for _ in range(3)]
    for sheet in sheets:
        for column in ("tyre_diameter_rear_left", "tyre_diameter_rear_right"):
            at = builders.NOW + dt.timedelta(minutes=rng.randrange(8))
            builders.read(sheet, column, "18.5", gauge=caliper, taken_at=at)
    for _ in range(rng.randrange(1, 6)):
        result = rng.choice([CheckResult.FAILED, CheckResult.PASSED])
        check(caliper, result, minutes=rng.randrange(8))
    each = doubtful_readings().filter(gauge_mode__gauge=caliper.gauge)
    expected = Counter(each.values_list("sheet", flat=True))
    found = {one.sheet.pk: one.count for one in in_doubt(caliper)}
    assert found == expected


def test_sealed_sheet_leaves_the_list_when_its_car_was_measured_again(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    act = builders.act(builders.make_scrutineer())
    builders.send_back(sheet.number, act=act)
    check(caliper, CheckResult.FAILED, minutes=30)
    assert [one.is_sealed for one in in_doubt(caliper)] == [True]
    call_back(sheet.entry_id, act=act)
    start_sheet(sheet.entry_id, block=None, changed=[Area.REAR_TYRES], act=act)
    assert not in_doubt(caliper)


def test_list_is_turned_page_by_page(caliper: GaugeMode) -> None:
    sheets = [builders.make_sheet() for _ in range(SHEETS_A_PAGE + 2)]
    for sheet in sheets:
        builders.read(sheet, "tyre_diameter_rear_left", "18.5", gauge=caliper)
    check(caliper, CheckResult.FAILED, minutes=30)
    client = Client()
    client.force_login(builders.make_scrutineer())
    address = f"/gauges/{caliper.gauge_id}"
    first = client.get(address).content.decode()
    assert sheets[-1].number in first
    assert sheets[0].number not in first
    assert "?doubts=2" in first
    assert sheets[0].number in client.get(f"{address}?doubts=2").content.decode()
