"""When a reading was taken: a device's wrong clock, and a desk's that is set."""

import datetime as dt
import importlib
import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.utils import timezone

from inspection.actions.readings import CLOCKS_DIFFER
from inspection.compute.night import ClockJump, clock_jump
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Seal, Sheet, SheetReading
from inventory.actions.audit import Act
from inventory.models import AuditRow, GaugeMode, Person
from tests import builders
from tests.flushing import without_triggers

pytestmark = pytest.mark.django_db
COLUMN = "tyre_diameter_rear_left"
SECOND = dt.timedelta(seconds=1)
HOUR, DAY = 3600 * SECOND, dt.timedelta(days=1)


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def sheet(scrutineer: Person) -> Sheet:
    return builders.make_sheet(by=scrutineer)


@pytest.fixture
def caliper() -> GaugeMode:
    # Checked now: a year later by the machine’s clock its check would be overdue.
    return builders.make_gauge(at=timezone.now())


def take_at(sheet: Sheet, caliper: GaugeMode, moment: dt.datetime) -> SheetReading:
    taken = builders.read(sheet, COLUMN, "18.4", gauge=caliper, taken_at=moment)
    assert taken.reading is not None
    taken.reading.refresh_from_db()
    return taken.reading


@pytest.mark.parametrize("way", [-1, 1])
def test_a_device_a_day_off_is_believed_and_no_further(
    sheet: Sheet, caliper: GaugeMode, way: int
) -> None:
    now = builders.act(minutes=2).at
    at = now + way * CLOCKS_DIFFER
    row = take_at(sheet, caliper, at)
    assert (row.taken_at, row.clock_said) == (at, "")
    beyond = at + way * SECOND
    row = take_at(sheet, caliper, beyond)
    assert (row.taken_at, row.received_at) == (now, now)
    assert row.clock_said == beyond.isoformat()


@pytest.fixture
def browser(scrutineer: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(scrutineer)


@pytest.mark.parametrize(
    "said",
    [
        "0001-01-01T00:00:00Z",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-12:00",
        "1970-01-01T00:00:00.000Z",
        "2093-05-05T10:00:00Z",
        "2026-05-05T10:00:00",  # of no zone
        "2026-13-45T10:00:00Z",
        "half past eight",
        "٢٠٢٦-٠٥-٠٥",
        "-271821-04-20T00:00:00.000Z",  # the earliest that a script can say
    ],
)
def test_a_sheet_is_read_whatever_a_device_says_the_time_is(
    browser: Client, sheet: Sheet, caliper: GaugeMode, said: str
) -> None:
    typed = {
        "reading_id": uuid.uuid4(), "column": COLUMN, "text": "18.4",
        "gauge": caliper.pk, "taken_at": said,
    }  # fmt: skip
    answer: Any = browser.post(f"/sheet/{sheet.number}/reading", typed)
    assert answer.status_code == 302
    row = SheetReading.objects.get()
    assert row.taken_at == row.received_at
    assert row.clock_said[:8] == said[:8]
    for address in (f"/sheet/{sheet.number}", f"/sheet/{sheet.number}/block"):
        page = browser.get(address)
        assert page.status_code == 200
        assert "(the desk's clock; the device's said" in page.content.decode()


@pytest.mark.parametrize("name", ["taken_at", "received_at"])
@pytest.mark.parametrize("year", [1, 1899, 2200, 9999])
def test_no_time_is_kept_that_cannot_be_read(
    sheet: Sheet, caliper: GaugeMode, name: str, year: int
) -> None:
    row = take_at(sheet, caliper, builders.NOW)
    row.pk, row.reading_id = None, uuid.uuid4()
    setattr(row, name, dt.datetime(year, 6, 1, tzinfo=dt.UTC))
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_readings_of_an_older_version_are_given_a_time_that_can_be_read(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    row, other = (take_at(sheet, caliper, builders.NOW) for _ in range(2))
    write_as_before(row, taken_at=dt.datetime(1, 1, 1, tzinfo=dt.UTC))
    mending = importlib.import_module("inspection.migrations.0019_mend_reading_times")
    mending.mend(apps, connection.schema_editor())
    row.refresh_from_db()
    assert row.taken_at == row.received_at
    assert row.clock_said.startswith("0001-01-01")
    assert SheetReading.objects.get(pk=other.pk).clock_said == ""
    # The rows are kept again.
    with pytest.raises(IntegrityError), transaction.atomic():
        SheetReading.objects.update(text="19")


def write_as_before(row: SheetReading, *, taken_at: dt.datetime) -> None:
    """Write what no constraint refused in an older version."""
    is_sqlite = connection.vendor == "sqlite"
    table = SheetReading._meta.db_table
    with connection.cursor() as cursor, without_triggers(cursor, [table]):
        cursor.execute(
            "PRAGMA ignore_check_constraints = ON"
            if is_sqlite
            else "SET CONSTRAINTS ALL IMMEDIATE; ALTER TABLE inspection_sheetreading "
            "DROP CONSTRAINT reading_time_can_be_read"
        )
        SheetReading.objects.filter(pk=row.pk).update(taken_at=taken_at)
    with connection.cursor() as cursor:
        cursor.execute(
            "PRAGMA ignore_check_constraints = OFF"
            if is_sqlite
            else "SET LOCAL session_replication_role = origin"
        )


# --- the desk's own clock ---------------------------------------------------------


@pytest.mark.parametrize(
    ("elapsed_s", "way"),
    [
        (0, None),
        (-5, None),
        (-5.001, ClockJump.BACK),
        (86_400, None),
        (86_400.001, ClockJump.ON),
    ],
)
def test_a_clock_was_set_where_its_times_do_not_follow_each_other(
    elapsed_s: float, way: ClockJump | None
) -> None:
    assert clock_jump(elapsed_s) is way


def seal_at(sheet: Sheet, by: Person, at: dt.datetime) -> Seal:
    return builders.send_back(sheet.number, act=Act(by=by, at=at))


@pytest.mark.parametrize(
    ("later", "way"), [(-2 * HOUR, "back"), (14 * 365 * DAY, "on")]
)
def test_a_clock_that_was_set_is_noticed_at_the_seal(
    sheet: Sheet,
    caliper: GaugeMode,
    scrutineer: Person,
    browser: Client,
    later: dt.timedelta,
    way: str,
) -> None:
    row = take_at(sheet, caliper, builders.NOW)
    seal = seal_at(sheet, scrutineer, row.received_at + later)
    said = {"set": way, "before": row.received_at.isoformat()}
    assert json.loads(seal.content)["clock"] == said
    audited = AuditRow.objects.get(event="clock.set")
    assert (audited.subject, audited.detail) == (sheet.number, said)
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert loaded.clock_set is not None
    assert (loaded.clock_set.way, loaded.clock_set.before) == (way, row.received_at)
    page = browser.get(f"/sheet/{sheet.number}").content.decode()
    assert "The desk's clock was set while this sheet was open" in page


def test_a_clock_set_back_behind_the_last_seal_of_the_night_is_noticed(
    sheet: Sheet, scrutineer: Person
) -> None:
    entry = builders.make_entry(night=sheet.entry.night)
    other = builders.make_sheet(entry=entry, by=scrutineer)
    late = other.started_at + 3 * HOUR
    seal_at(sheet, scrutineer, late)
    seal = seal_at(other, scrutineer, late - HOUR)
    assert json.loads(seal.content)["clock"]["before"] == late.isoformat()


def test_a_clock_that_goes_on_is_not_spoken_of(
    sheet: Sheet, caliper: GaugeMode, scrutineer: Person, browser: Client
) -> None:
    row = take_at(sheet, caliper, builders.NOW)
    seal = seal_at(sheet, scrutineer, row.received_at + HOUR)
    assert "clock" not in json.loads(seal.content)
    page = browser.get(f"/sheet/{sheet.number}").content.decode()
    assert "clock was set" not in page
