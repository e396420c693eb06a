"""Which failure a page owns to: a full disk, no database, or a fault of its own."""

import errno
import sqlite3
from http import HTTPStatus
from pathlib import Path

import psycopg
import pytest
from django.db import InterfaceError, OperationalError, connection

from deploy.failures import AWAY, FAULT, FULL, failure_of


def raised_by_sqlite(pragma: str, statement: str, path: Path) -> sqlite3.Error:
    """Give the error that SQLite itself raises."""
    database = sqlite3.connect(path)
    try:
        database.execute("CREATE TABLE t (x)")
        database.execute(pragma)
        database.execute(statement)
    except sqlite3.Error as error:
        return error
    finally:
        database.close()
    raise AssertionError


def test_sqlite_tells_a_full_disk_from_a_wrong_statement(tmp_path: Path) -> None:
    much = "INSERT INTO t SELECT zeroblob(1000000)"
    full = raised_by_sqlite("PRAGMA max_page_count = 3", much, tmp_path / "a")
    assert failure_of(full) is FULL
    wrong = raised_by_sqlite("SELECT 1", "SELECT nothing FROM t", tmp_path / "b")
    assert failure_of(wrong) is FAULT


def test_a_locked_database_is_asked_again(tmp_path: Path) -> None:
    first = sqlite3.connect(tmp_path / "a", isolation_level=None)
    first.execute("BEGIN EXCLUSIVE")
    second = sqlite3.connect(tmp_path / "a", timeout=0, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError) as caught:
        second.execute("BEGIN IMMEDIATE")
    assert failure_of(caught.value) is AWAY
    first.close()
    second.close()


@pytest.mark.django_db
def test_a_wrong_statement_is_a_fault_on_either_database() -> None:
    with pytest.raises(Exception, match="never") as caught:
        connection.cursor().execute("SELECT never FROM inventory_person")
    assert failure_of(caught.value) is FAULT


def test_postgresql_tells_what_happened_by_its_codes() -> None:
    # Appendix A of PostgreSQL's manual: 53100 disk_full, 57P01 admin_shutdown,
    # 42703 undefined_column.
    codes = {"53100": FULL, "57P01": AWAY, "42703": FAULT}
    for code, failure in codes.items():
        assert failure_of(psycopg.errors.lookup(code)("said")) is failure


def test_a_full_disk_is_known_where_a_file_is_written() -> None:
    assert failure_of(OSError(errno.ENOSPC, "No space left on device")) is FULL
    assert failure_of(OSError(errno.EACCES, "Permission denied")) is FAULT


def test_the_cause_is_looked_for_behind_what_was_raised() -> None:
    behind = OperationalError("a page of the session was not written")
    behind.__cause__ = OSError(errno.ENOSPC, "No space left on device")
    assert failure_of(behind) is FULL


def test_a_connection_that_was_closed_is_an_absent_database() -> None:
    assert failure_of(InterfaceError("connection already closed")) is AWAY


def test_no_exception_at_all_is_a_fault() -> None:
    assert failure_of(None) is FAULT
    assert FAULT.status is HTTPStatus.INTERNAL_SERVER_ERROR
