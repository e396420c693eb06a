"""What the service demands of the database it was given (findings 2, 3 and 5)."""

import sqlite3
from pathlib import Path
from typing import Any

import pytest
from django.core.checks import CheckMessage
from django.db import connection
from django.db.backends.sqlite3.base import DatabaseWrapper

from deploy.settings.databases import sqlite
from inventory.checks import check_databases, journal_mode_for, sqlite_messages


def opened(path: Path, **changes: str) -> DatabaseWrapper:
    """Return a connection as the settings describe it, some words replaced."""
    described: dict[str, Any] = sqlite(path)
    command = described["OPTIONS"]["init_command"]
    for old, new in changes.items():
        command = command.replace(old, new)
    described["OPTIONS"]["init_command"] = command
    defaults = dict(connection.settings_dict) | {"TEST": {}}
    return DatabaseWrapper(defaults | described, alias="tried")


def ids(messages: list[CheckMessage]) -> list[str | None]:
    return [message.id for message in messages]


@pytest.mark.parametrize(
    ("version", "mode"),
    [
        ((3, 7, 0), "TRUNCATE"),
        ((3, 40, 1), "TRUNCATE"),
        ((3, 51, 2), "TRUNCATE"),
        ((3, 51, 3), "WAL"),  # 13 March 2026: the reset of a WAL is mended
        ((3, 52, 0), "WAL"),
        ((4, 0, 0), "WAL"),
    ],
)
def test_journal_mode_follows_the_version(
    version: tuple[int, int, int], mode: str
) -> None:
    assert journal_mode_for(version) == mode


@pytest.mark.django_db
@pytest.mark.sqlite
def test_a_database_as_described_is_only_reported(tmp_path: Path) -> None:
    tried = opened(tmp_path / "club.sqlite3")
    version = sqlite3.sqlite_version_info
    messages = sqlite_messages(tried, version)
    tried.close()
    assert ids(messages) == ["inventory.I001"]
    assert journal_mode_for(version) in str(messages[0].msg)
    assert sqlite3.sqlite_version in str(messages[0].msg)


@pytest.mark.django_db
@pytest.mark.sqlite
def test_wal_on_an_affected_version_is_an_error(tmp_path: Path) -> None:
    tried = opened(tmp_path / "club.sqlite3", TRUNCATE="WAL")
    messages = sqlite_messages(tried, (3, 40, 1))
    mended = sqlite_messages(tried, (3, 51, 3))
    tried.close()
    assert ids(messages) == ["inventory.I001", "inventory.E001"]
    assert ids(mended) == ["inventory.I001"]


@pytest.mark.django_db
@pytest.mark.sqlite
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("synchronous=FULL", "synchronous=NORMAL", "synchronous=1"),
        ("foreign_keys=ON", "foreign_keys=OFF", "foreign_keys=0"),
        ("recursive_triggers=ON", "recursive_triggers=OFF", "recursive_triggers=0"),
    ],
)
def test_a_weaker_connection_is_an_error_that_names_it(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    tried = opened(tmp_path / "club.sqlite3", **{old: new})
    messages = sqlite_messages(tried, (3, 40, 1))
    tried.close()
    assert ids(messages) == ["inventory.I001", "inventory.E002"]
    assert said in str(messages[1].msg)


@pytest.mark.django_db
@pytest.mark.sqlite
def test_writers_begin_immediate_and_wait_ten_seconds(tmp_path: Path) -> None:
    tried = opened(tmp_path / "club.sqlite3")
    with tried.cursor() as cursor:
        assert vars(tried)["transaction_mode"] == "IMMEDIATE"
        cursor.execute("PRAGMA busy_timeout")
        assert cursor.fetchone() == (10_000,)
    tried.close()


@pytest.mark.django_db
def test_the_database_of_this_run_is_sound() -> None:
    found = ids(check_databases(None, databases=["default"]))
    sound = {"sqlite": ["inventory.I001"], "postgresql": []}
    assert found == sound[connection.vendor]


def test_without_a_database_named_nothing_is_asked() -> None:
    assert check_databases(None, databases=None) == []


@pytest.mark.django_db
@pytest.mark.postgresql
def test_postgresql_that_answers_before_the_disk_is_warned_of() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit TO off")
        found = check_databases(None, databases=["default"])
        cursor.execute("RESET synchronous_commit")
    assert ids(found) == ["inventory.W001"]
