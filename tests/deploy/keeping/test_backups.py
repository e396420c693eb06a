"""Which backups are kept, when one is due, the second folder, the admin's page."""

import datetime as dt
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.urls import reverse

from deploy.keeping import scheduled
from deploy.keeping.backups import backups_in, opened
from deploy.keeping.manifest import NoBackupError, Why
from deploy.keeping.scheduled import back_up_if_due, is_only_one, last_made, why_due
from deploy.keeping.thinning import kept
from deploy.starting import upgrading
from inventory.compute.roles import Role
from tests import builders

AT = dt.datetime(2026, 5, 8, 19, 0, tzinfo=dt.UTC)
MINUTE, DAY = dt.timedelta(minutes=1), dt.timedelta(days=1)


def test_the_last_hour_the_last_days_and_months_are_kept() -> None:
    nights = [(AT - 5 * MINUTE * i, Why.NIGHT) for i in range(40)]
    days = [(AT - DAY * i, Why.DAILY) for i in range(1, 800)]
    upgrades = [(AT - DAY * 300 - MINUTE * i, Why.UPGRADE) for i in range(5)]
    stay = kept([*nights, *days, *upgrades])
    assert set(nights) & stay == set(nights[:12])
    assert set(upgrades) & stay == set(upgrades[:3])
    ages = {(AT - at).days for at, why in stay if why is Why.DAILY}
    assert set(range(1, 14)) <= ages
    # A year of months, this one by the night's own.
    months = {(at.year, at.month) for at, _ in stay}
    assert len(months) == 12
    assert min(months) == (2025, 6)
    assert kept(stay) == stay


@pytest.mark.parametrize(
    ("ago", "at_night", "why"),
    [
        (None, False, Why.DAILY),
        (None, True, Why.NIGHT),
        (4 * MINUTE, True, None),
        (5 * MINUTE, True, Why.NIGHT),
        (5 * MINUTE, False, None),
        (DAY, False, Why.DAILY),
        # Noted by a clock that was a year ahead: it must not stop the next.
        (-365 * DAY, False, Why.DAILY),
    ],
)
def test_a_backup_is_due_each_day_and_every_five_minutes_of_a_night(
    ago: dt.timedelta | None, *, at_night: bool, why: Why | None
) -> None:
    last = None if ago is None else AT - ago
    assert why_due(last, at=AT, at_night=at_night) is why


@pytest.fixture
def places(tmp_path: Path, settings: Any) -> tuple[Path, Path]:
    settings.BACKUP_FOLDER = tmp_path / "kept"
    settings.BACKUP_FOLDER_TOO = tmp_path / "stick"
    return settings.BACKUP_FOLDER, settings.BACKUP_FOLDER_TOO


@pytest.mark.django_db(transaction=True)
def test_a_night_is_backed_up_once_each_time_to_both_folders(
    places: tuple[Path, Path],
) -> None:
    first, stick = places
    assert back_up_if_due(at=AT) is None
    builders.make_person()
    made = back_up_if_due(at=AT)
    assert made is not None
    assert "is the stick in?" in made.not_there_too
    builders.make_night()
    stick.mkdir()
    assert back_up_if_due(at=AT + MINUTE) is None
    with is_only_one() as is_ours:
        assert is_ours
        if connection.vendor == "sqlite":
            # Another start, or another machine, is at it.
            assert back_up_if_due(at=AT + 5 * MINUTE) is None
    made = back_up_if_due(at=AT + 5 * MINUTE)
    assert made is not None
    assert made.not_there_too == ""
    assert last_made() == AT + 5 * MINUTE
    assert [one.why for one in backups_in(first)] == [Why.NIGHT, Why.DAILY]
    (copy,) = backups_in(stick)
    with opened(copy.path) as (manifest, _):
        assert manifest == made.manifest
    assert not list(first.glob(".*")) + list(stick.glob(".*"))


@pytest.mark.django_db(transaction=True)
def test_the_admin_sees_the_last_makes_one_and_takes_it(
    places: tuple[Path, Path],
) -> None:
    places[1].mkdir()
    client = Client()
    client.force_login(builders.make_person(Role.ADMIN))
    address = reverse("backups")
    assert "None was made yet." in client.get(address).content.decode()
    shown = client.post(reverse("back_up"), follow=True).content.decode()
    assert "The last one was made" in shown
    take = re.search(r'action="([^"]*/take/[^"]+)"', shown)
    assert take is not None
    answer = client.post(take[1])
    sent = places[0].parent / "sent.zip"
    sent.write_bytes(b"".join(answer))
    with opened(sent) as (manifest, _):
        assert manifest.why is Why.ASKED
    shutil.rmtree(places[0])
    gone = client.post(take[1], follow=True).content.decode()
    assert "not kept any more" in gone


@pytest.mark.django_db(transaction=True)
def test_tables_are_changed_only_behind_a_backup(
    places: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upgrading, "is_behind", lambda: True)
    upgrading.upgrade()
    (made,) = backups_in(places[0])
    assert made.why is Why.UPGRADE
    with opened(made.path) as (manifest, _):
        done = MigrationRecorder(connection).applied_migrations()
        assert len(manifest.migrations) == len(done)
    shutil.rmtree(places[0])
    places[0].write_text("a file where the folder should be")
    called: list[str] = []
    monkeypatch.setattr(
        upgrading, "call_command", lambda name, **_: called.append(name)
    )
    with pytest.raises(NoBackupError, match="No backup could be written"):
        upgrading.upgrade()
    assert called == []
    upgrading.upgrade(with_backup=False)
    assert called == ["migrate"]


@pytest.mark.django_db
def test_the_daily_check_is_one_check_however_many_timers_ask() -> None:
    assert scheduled.check_seals_if_due(at=AT)
    assert not scheduled.check_seals_if_due(at=dt.datetime.now(tz=dt.UTC))
