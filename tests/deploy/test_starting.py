"""What a start makes sure of: a private folder, its turn, and code new enough."""

import os
import secrets
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import SystemCheckError
from django.db import connection
from django.db.migrations import Migration
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client

from deploy import serve
from deploy.starting import data_folder
from deploy.starting.refusals import NotADataFolderError, NoTurnError
from deploy.starting.turns import one_at_a_time
from deploy.starting.upgrading import one_upgrade_at_a_time
from deploy.starting.versions import unknown_migrations
from inventory.models import AuditRow, OpenSession
from tests.builders import make_person
from tests.deploy.servers import (
    ROOT,
    SERVE,
    clean_environment,
    fetch,
    gunicorn,
    running,
)

POSIX = pytest.mark.skipif(os.name == "nt", reason="modes of files are not Windows'")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


# --- the folder ---------------------------------------------------------------------


@POSIX
def test_folder_and_database_are_their_owners_whatever_was_there(
    tmp_path: Path,
) -> None:
    data = tmp_path / "club"
    data.mkdir(mode=0o755)
    for name in (
        data_folder.DATABASE,
        data_folder.SECRET_KEY,
        "feelerbook.sqlite3-wal",
    ):
        (data / name).touch(mode=0o644)
        (data / name).chmod(0o644)
    data_folder.make_private(data)
    assert mode(data) == 0o700
    assert {mode(path) for path in data.iterdir()} == {0o600}


@POSIX
def test_a_server_leaves_nothing_for_others_to_read(tmp_path: Path) -> None:
    data = tmp_path / "club"
    data.mkdir(mode=0o777)
    data.chmod(0o777)
    previous = os.umask(0)
    try:
        with running(*SERVE, "--port=0", f"--data={data}", "--no-demo"):
            open_to_others = [
                path for path in (data, *data.rglob("*")) if mode(path) & 0o077
            ]
    finally:
        os.umask(previous)
    assert open_to_others == []


def test_a_folder_that_holds_other_things_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "holiday.jpg").touch()
    before = mode(tmp_path)
    with pytest.raises(
        NotADataFolderError, match=r"holds other things \(holiday.jpg\)"
    ):
        data_folder.make_private(tmp_path)
    assert mode(tmp_path) == before
    done = start(tmp_path)
    assert (done.returncode, "Traceback" in done.stderr) == (1, False)
    assert "Name an empty or a new folder" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["holiday.jpg"]


def start(data: Path) -> "subprocess.CompletedProcess[str]":
    """Start where it should end at once with a sentence."""
    return subprocess.run(
        [*SERVE, "--port=0", f"--data={data}", "--no-demo"],
        cwd=ROOT,
        env=clean_environment(),
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_a_key_is_written_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FEELERBOOK_DATA", str(tmp_path / "club"))
    from deploy.settings import local  # noqa: PLC0415

    monkeypatch.setattr(secrets, "token_urlsafe", refuse)
    path = tmp_path / "key"
    with pytest.raises(OSError, match="full"):
        local.kept_secret(path)
    monkeypatch.undo()
    key = local.kept_secret(path)
    assert len(key) >= 50
    assert local.kept_secret(path) == key


def refuse(length: int) -> str:
    raise OSError(28, "the disk is full")


# --- turns --------------------------------------------------------------------------


def test_the_second_waits_for_the_first_and_says_so(tmp_path: Path) -> None:
    said: list[str] = []
    order: list[str] = []
    inside, may_end = threading.Event(), threading.Event()

    def first() -> None:
        with one_at_a_time(tmp_path / "lock", say=said.append):
            inside.set()
            may_end.wait(timeout=30)
            order.append("first")

    def say(words: str) -> None:
        said.append(words)
        may_end.set()

    thread = threading.Thread(target=first)
    thread.start()
    inside.wait(timeout=30)
    with one_at_a_time(tmp_path / "lock", say=say):
        order.append("second")
    thread.join(timeout=30)
    assert order == ["first", "second"]
    assert said == ["Another start prepares the same folder; waiting for it …"]


def test_a_start_that_does_not_end_is_named(tmp_path: Path) -> None:
    quiet: list[str] = []
    with (
        one_at_a_time(tmp_path / "lock", say=quiet.append),
        pytest.raises(NoTurnError, match="does not come to an end"),
        one_at_a_time(tmp_path / "lock", say=quiet.append, longest_s=0.3),
    ):
        raise AssertionError


def test_a_killed_start_gives_up_its_turn(tmp_path: Path) -> None:
    code = (
        "import os, sys; from pathlib import Path;"
        "from deploy.starting.turns import one_at_a_time;"
        f"turn = one_at_a_time(Path({str(tmp_path / 'lock')!r}), say=print);"
        "turn.__enter__(); os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False)
    with one_at_a_time(tmp_path / "lock", say=print):
        pass


@POSIX
def test_two_first_starts_at_once_both_serve(tmp_path: Path) -> None:
    words = [*SERVE, "--port=0", f"--data={tmp_path / 'club'}", "--no-demo"]
    answers: list[tuple[int, str]] = []
    faults: list[BaseException] = []

    def begin() -> None:
        try:
            with running(*words) as (_, address, _lines):
                answers.append(fetch(f"{address}ready"))
                both_are_up.wait(timeout=120)
        except BaseException as fault:
            faults.append(fault)
            both_are_up.abort()

    both_are_up = threading.Barrier(2)
    threads = [threading.Thread(target=begin) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=200)
    assert not faults
    assert answers == [(200, "ready\n")] * 2


# --- versions -----------------------------------------------------------------------

NEWER = ("inspection", "9999_of_another_year")


@pytest.fixture
def newer(db: None) -> Iterator[None]:
    """Let the database have been brought up to date by a later version."""
    AuditRow.objects.create(
        at="2040-01-01T00:00Z", event="database.upgraded", subject="Feelerbook 9.3.1"
    )
    recorder = MigrationRecorder(connection)
    recorder.record_applied(*NEWER)
    yield
    recorder.record_unapplied(*NEWER)


@pytest.mark.django_db
def test_an_upgrade_of_nothing_notes_nothing_and_cleans_sessions_away() -> None:
    # Of tables that nobody uses yet.
    OpenSession.objects.create(session_key="k" * 32, expire_date="2020-01-01T00:00Z")
    call_command("upgrade")
    assert not AuditRow.objects.filter(event="database.upgraded").exists()
    assert not OpenSession.objects.exists()
    make_person()
    for _ in range(2):
        call_command("upgrade")
        noted = AuditRow.objects.filter(event="database.upgraded")
        assert [row.subject for row in noted] == [f"Feelerbook {settings.VERSION}"]


@pytest.mark.postgresql
@pytest.mark.django_db
def test_an_upgrade_waits_longer_than_a_page_and_leaves_that_as_it_was() -> None:
    def timeouts() -> list[str]:
        with connection.cursor() as cursor:
            cursor.execute("SHOW statement_timeout")
            (statement,) = cursor.fetchone()
            cursor.execute("SHOW lock_timeout")
            return [statement, *cursor.fetchone()]

    with one_upgrade_at_a_time(say=print):
        assert timeouts() == ["0", "0"]
        assert connection.connection.longest_s is None
    assert timeouts() == ["10s", "3s"]
    assert connection.connection.longest_s is not None


SENTENCE = r"brought up to date by Feelerbook 9\.3\.1, .* \(first inspection 9999_of"


@pytest.mark.django_db
def test_code_that_knows_its_database_goes_on() -> None:
    call_command("upgrade", "--only-check")


def test_older_code_touches_nothing_and_names_the_version(newer: None) -> None:
    with pytest.raises(CommandError, match=SENTENCE) as refused:
        call_command("upgrade", "--only-check")
    assert refused.value.returncode == 3
    with pytest.raises(CommandError, match=SENTENCE):
        call_command("upgrade")
    with pytest.raises(SystemCheckError, match=SENTENCE):
        call_command("migrate", verbosity=0, skip_checks=False)


def test_older_code_is_not_ready(newer: None) -> None:
    assert Client().get("/ready").status_code == 503


def test_what_a_squashed_migration_replaces_is_known() -> None:
    class Squashed(Migration):
        replaces = [("app", "0001"), ("app", "0002")]

    here = {("app", "0001_squashed"): Squashed("0001_squashed", "app")}
    applied = [("app", "0001"), ("app", "0002"), ("app", "0003")]
    assert unknown_migrations(applied, here) == [("app", "0003")]


MARK_NEWER = """
from inventory.models import AuditRow
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
MigrationRecorder(connection).record_applied("inspection", "9999_of_another_year")
AuditRow.objects.create(
    at="2040-01-01T00:00Z", event="database.upgraded", subject="Feelerbook 9.3.1"
)
"""


@POSIX
def test_both_servers_refuse_a_newer_database_with_a_sentence(tmp_path: Path) -> None:
    data = tmp_path / "club"
    with running(*SERVE, "--port=0", f"--data={data}", "--no-demo"):
        pass
    local = {"DJANGO_SETTINGS_MODULE": "deploy.settings.local", "FEELERBOOK_DATA": data}
    subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", MARK_NEWER],
        cwd=ROOT,
        env=clean_environment() | {name: str(value) for name, value in local.items()},
        check=True,
        capture_output=True,
    )
    done = start(data)
    assert (done.returncode, "Traceback" in done.stderr) == (1, False)
    assert "brought up to date by Feelerbook 9.3.1" in done.stderr
    with (
        pytest.raises(AssertionError, match="brought up to date by Feelerbook "),
        gunicorn(tmp_path, {name: str(value) for name, value in local.items()}),
    ):
        raise RuntimeError


# --- what a start says --------------------------------------------------------------


def test_a_fault_of_the_code_is_not_made_a_sentence(tmp_path: Path) -> None:
    assert serve.sentence_of(ValueError("of ours"), tmp_path) is None


def test_a_folder_without_leave_is_said(tmp_path: Path) -> None:
    refused = PermissionError(13, "Permission denied", str(tmp_path))
    said = serve.sentence_of(refused, tmp_path)
    assert said is not None
    assert said.startswith(f"{tmp_path} cannot be read or written")
