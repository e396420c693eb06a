"""
A backup taken while others write, put back elsewhere, every seal walked.

Each writer keeps a balance: a credit and its debit in one transaction.  A copy that was
not of one moment holds one without the other.
"""

import io
import os
import sqlite3
import subprocess
import sys
import threading
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.utils import timezone

from deploy.keeping.backups import MANIFEST, check_digest, opened, write_backup
from deploy.keeping.copies import NAMES, address_of_database, database_file
from deploy.keeping.manifest import Manifest, NoBackupError, Why
from deploy.keeping.restoring import refuse_other_counts, refuse_other_kind
from inspection.actions.seal_checks import link_audit_rows
from inventory.actions.audit import record_outside_event
from inventory.models import AuditRow
from tests import builders
from tests.conftest import ON_POSTGRESQL
from tests.deploy.servers import ROOT, clean_environment
from tests.inspection.seals_night import make_sealed_night

pytestmark = pytest.mark.django_db(transaction=True)
WRITERS, WRITTEN_BEFORE = 3, 12
SEALS = 3


def write_pairs(stop: threading.Event, count: list[int]) -> None:
    try:
        while not stop.is_set():
            with transaction.atomic():
                for half in ("pair.credit", "pair.debit"):
                    record_outside_event(half, subject="x", at=timezone.now())
            count.append(1)
    finally:
        connection.close()


@contextmanager
def others_writing() -> Iterator[list[int]]:
    stop, count = threading.Event(), list[int]()
    threads = [
        threading.Thread(target=write_pairs, args=(stop, count)) for _ in range(WRITERS)
    ]
    for thread in threads:
        thread.start()
    try:
        while len(count) < WRITTEN_BEFORE and any(t.is_alive() for t in threads):
            stop.wait(0.01)
        yield count
    finally:
        stop.set()
        for thread in threads:
            thread.join(30)


@pytest.fixture
def elsewhere(tmp_path: Path) -> Iterator[dict[str, str]]:
    """Give the environment of an installation whose database is empty."""
    if not ON_POSTGRESQL:
        yield clean_environment() | {
            "FEELERBOOK_DATA": str(tmp_path / "other"),
            "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
        }
        return
    name = f"other_{os.getpid()}"
    said = address_of_database()
    with closing(psycopg.connect(**said, autocommit=True)) as line:
        line.execute(f'CREATE DATABASE "{name}"')
        try:
            yield clean_environment() | {
                "DJANGO_SETTINGS_MODULE": "deploy.settings.shared",
                "FEELERBOOK_SECRET_KEY": "x" * 60,
                "FEELERBOOK_HOSTS": "desk.example",
                "DATABASE_URL": f"postgresql://{said['user']}@/{name}"
                f"?host={said['host']}",
            }
        finally:
            line.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def restore(file: Path, place: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", "restore", str(file)],
        cwd=ROOT,
        env=place,
        check=False,
        capture_output=True,
        text=True,
    )


def events(place: dict[str, str]) -> dict[str, int]:
    """Count the audit rows of the other place by event, past all of Django."""
    asked = "SELECT event, COUNT(*) FROM inventory_auditrow GROUP BY event"
    if "DATABASE_URL" in place:
        with closing(psycopg.connect(place["DATABASE_URL"])) as line:
            return dict(line.execute(asked).fetchall())
    file = Path(place["FEELERBOOK_DATA"]) / "feelerbook.sqlite3"
    with closing(sqlite3.connect(file)) as line:
        return dict(line.execute(asked).fetchall())


def test_what_was_backed_up_under_writes_comes_back_whole_and_its_seals_hold(
    tmp_path: Path, elsewhere: dict[str, str]
) -> None:
    make_sealed_night(builders.make_scrutineer())
    link_audit_rows(at=timezone.now())
    file = tmp_path / "kept.zip"
    with others_writing() as count:
        before = len(count)
        write_backup(file, Why.ASKED, at=timezone.now())
        at_backup = len(count)
    assert before >= WRITTEN_BEFORE
    if os.name != "nt":
        assert file.stat().st_mode & 0o777 == 0o600

    done = restore(file, elsewhere)
    assert done.returncode == 0, done.stderr
    assert f"{SEALS} seals hold." in done.stdout
    found = events(elsewhere)
    # One moment: no half of a pair, nothing lost that was acknowledged before it.
    assert found["pair.credit"] == found["pair.debit"]
    assert before <= found["pair.credit"] <= at_backup + WRITERS
    assert found["backup.restored"] == 1
    # Nothing is put over what is there.
    with pytest.raises(CommandError, match="is not empty"):
        call_command("restore", file)


def pack_again(out: io.BytesIO, manifest: Manifest, copy: bytes) -> None:
    """Pack another copy under the same manifest, as a well-made ZIP."""
    with zipfile.ZipFile(out, "w") as file:
        file.writestr(MANIFEST, manifest.as_json())
        file.writestr(NAMES[manifest.engine], copy)


def test_a_backup_that_was_changed_or_cut_is_none(tmp_path: Path) -> None:
    file = tmp_path / "kept.zip"
    manifest = write_backup(file, Why.ASKED, at=timezone.now())
    assert manifest.counts[AuditRow._meta.db_table] == AuditRow.objects.count()
    whole = file.read_bytes()
    with opened(file) as (said, inside):
        assert said == manifest
        copy = inside.read()
    other = io.BytesIO()
    pack_again(other, manifest, copy + b"0")
    for broken, why in (
        (other.getvalue(), "is not what its manifest says"),
        (whole[: len(whole) // 2], "is no backup of Feelerbook"),
        (copy, "is no backup of Feelerbook"),
    ):
        file.write_bytes(broken)
        with pytest.raises(NoBackupError, match=why), opened(file) as (said, inside):
            check_digest(inside, said)
    newer = replace(manifest, migrations=(*manifest.migrations, "inventory.9999_x"))
    with pytest.raises(NoBackupError, match="by a newer version"):
        refuse_other_kind(newer)
    with pytest.raises(NoBackupError, match="moves by take_out_club"):
        refuse_other_kind(replace(manifest, engine="another"))
    table, count = next(iter(manifest.counts.items()))
    with pytest.raises(NoBackupError, match=f"{table}: {count} rows were backed up"):
        refuse_other_counts(manifest.counts, {**manifest.counts, table: count + 1})


@pytest.mark.sqlite
def test_writers_wait_for_a_copy_and_are_not_refused(tmp_path: Path) -> None:
    """A copy of many pages ends, though somebody writes all the while."""
    with closing(sqlite3.connect(database_file())) as line:
        line.execute("CREATE TABLE ballast (x)")
        line.executemany("INSERT INTO ballast VALUES (?)", [(b"x" * 4000,)] * 5000)
        line.commit()
    try:
        with others_writing() as count:
            write_backup(tmp_path / "kept.zip", Why.ASKED, at=timezone.now())
            after = len(count)
            while len(count) < after + WRITERS:
                threading.Event().wait(0.01)
    finally:
        with closing(sqlite3.connect(database_file())) as line:
            line.execute("DROP TABLE ballast")
            line.commit()
