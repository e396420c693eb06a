"""System checks: what the service needs of the database it was given."""

import sqlite3
from collections.abc import Iterable, Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error, Info, Tags, Warning, register
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

# Two connections that checkpoint a WAL at once could reset it and lose pages:
# in every SQLite from 3.7.0 on, mended in 3.51.3 of March 2026.
WAL_IS_SAFE_SINCE = (3, 51, 3)

WANTED_PRAGMAS = {
    "synchronous": 2,  # FULL
    "foreign_keys": 1,
    "recursive_triggers": 1,
}


def journal_mode_for(version: Sequence[int]) -> str:
    """Return ``WAL`` where this version of SQLite keeps it whole, else ``TRUNCATE``."""
    return "WAL" if tuple(version) >= WAL_IS_SAFE_SINCE else "TRUNCATE"


@register(Tags.database)
def check_databases(
    app_configs: Sequence[AppConfig] | None,
    databases: Iterable[str] | None = None,
    **kwargs: Any,
) -> list[CheckMessage]:
    messages: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        if connection.vendor == "sqlite":
            messages += sqlite_messages(connection, sqlite3.sqlite_version_info)
        elif connection.vendor == "postgresql":
            messages += postgresql_messages(connection)
    return messages


def sqlite_messages(
    connection: BaseDatabaseWrapper, version: Sequence[int]
) -> list[CheckMessage]:
    number = ".".join(map(str, version))
    mode = str(_pragma(connection, "journal_mode")).upper()
    messages: list[CheckMessage] = [
        Info(f"SQLite {number}, journal mode {mode}.", id="inventory.I001")
    ]
    if mode == "WAL" and journal_mode_for(version) != "WAL":
        messages.append(
            Error(
                f"SQLite {number} may lose pages of a WAL journal.",
                hint="Use the journal mode TRUNCATE, or SQLite 3.51.3 or later.",
                id="inventory.E001",
            )
        )
    wrong = {
        name: value
        for name, wanted in WANTED_PRAGMAS.items()
        if (value := _pragma(connection, name)) != wanted
    }
    if wrong:
        as_opened = ", ".join(f"{name}={value}" for name, value in wrong.items())
        messages.append(
            Error(
                f"SQLite is opened with {as_opened}.",
                hint="Describe the database with deploy.settings.databases.sqlite.",
                id="inventory.E002",
            )
        )
    return messages


def postgresql_messages(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    with connection.cursor() as cursor:
        cursor.execute("SHOW synchronous_commit")
        (word,) = cursor.fetchone()
    if word == "on":
        return []
    return [
        Warning(
            f"PostgreSQL answers before a write is on the disk ({word}).",
            hint="Set synchronous_commit to on.",
            id="inventory.W001",
        )
    ]


def _pragma(connection: BaseDatabaseWrapper, name: str) -> int | str:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {name}")
        value: int | str = cursor.fetchone()[0]
    return value
