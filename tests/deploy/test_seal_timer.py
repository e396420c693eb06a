"""What a shared installation does daily, and a local one beside its start."""

import datetime as dt
import shutil
import subprocess
from configparser import RawConfigParser
from pathlib import Path

import pytest
from django.db import connection
from django.utils import timezone

from deploy import serve
from inspection.models import Seal, SealCheck
from inventory.actions.audit import Act
from inventory.actions.club import ClubSettings, settle_club
from inventory.models import Person
from tests import builders
from tests.inspection.seals_night import make_sealed_night
from tests.lifted import guards_lifted

DEPLOY = Path(serve.__file__).parent


def unit(name: str) -> RawConfigParser:
    parser = RawConfigParser(strict=False)
    parser.read(DEPLOY / name, encoding="utf-8")
    return parser


DAILY = {
    "feelerbook-seals": "manage.py scheduled seals",
    "feelerbook-people": "manage.py erase_old_people --by-itself",
}


@pytest.mark.parametrize("name", DAILY)
def test_timer_runs_its_command_as_the_service_runs(name: str) -> None:
    check, service = unit(f"{name}.service"), unit("feelerbook.service")
    assert check["Service"]["execstart"].endswith(DAILY[name])
    for key in ("user", "workingdirectory", "environmentfile", "protectsystem"):
        assert check["Service"][key] == service["Service"][key]
    timer = unit(f"{name}.timer")
    assert timer["Timer"]["persistent"] == "true"


@pytest.mark.parametrize("name", DAILY)
def test_timer_says_its_hour_as_systemd_wants_it(name: str) -> None:
    if shutil.which("systemd-analyze") is None:
        # Without systemd its own reader cannot be asked; the keys are held above.
        assert unit(f"{name}.timer")["Install"]["wantedby"] == "timers.target"
        return
    when = unit(f"{name}.timer")["Timer"]["oncalendar"]
    done = subprocess.run(
        ["systemd-analyze", "calendar", when],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.django_db
def test_start_checks_what_was_sealed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # The test's own connection stays open for the test.
    monkeypatch.setattr(connection, "close", lambda: None)
    serve.check_seals_meanwhile()
    assert not SealCheck.objects.exists()
    make_sealed_night(builders.make_scrutineer())
    serve.check_seals_meanwhile()
    assert SealCheck.objects.get().occasion == "at the start"
    assert capsys.readouterr().out == ""
    with guards_lifted(Seal), connection.cursor() as cursor:
        cursor.execute("UPDATE inspection_seal SET is_own_car = TRUE")
    serve.check_seals_meanwhile()
    said = capsys.readouterr().out
    assert said.startswith("Seals: 3 differences; 3 seals were checked.")


@pytest.mark.django_db
def test_start_erases_whom_the_club_keeps_no_longer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(connection, "close", lambda: None)
    admin = builders.make_admin()
    gone = builders.make_person()
    long_ago = timezone.now() - dt.timedelta(days=900)
    Person.objects.filter(pk=gone.pk).update(joined_at=long_ago)
    serve.erase_old_people_meanwhile()
    assert not Person.objects.exclude(erased_at=None).exists()
    said = ClubSettings(name="Brief", keeps_people_months=24)
    settle_club(said, act=Act(by=admin, at=timezone.now()))
    serve.erase_old_people_meanwhile()
    assert Person.objects.exclude(erased_at=None).get() == gone
