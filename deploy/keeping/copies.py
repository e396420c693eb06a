"""
A copy of the database as it was at one moment, while others read and write.

SQLite copies its pages in one step under a reader's lock: whoever writes meanwhile
waits for that long, which is a fraction of the time that a write may wait.  PostgreSQL
dumps one snapshot, and the rows are counted in the same one.
"""

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
from django.db import connection
from psycopg import sql

from deploy.keeping.manifest import NoBackupError

#: The copy's name inside a backup, by the database it is of.
NAMES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
_LOCK_WAIT_S = 30.0
_OF_CONNECTION = {
    "host": "PGHOST",
    "port": "PGPORT",
    "user": "PGUSER",
    "password": "PGPASSWORD",
    "dbname": "PGDATABASE",
    "sslmode": "PGSSLMODE",
    "sslrootcert": "PGSSLROOTCERT",
    "sslcert": "PGSSLCERT",
    "sslkey": "PGSSLKEY",
}


def take_copy(into: Path) -> dict[str, int]:
    """Write a copy of the database in use into a new file; return its row counts."""
    if connection.vendor == "sqlite":
        return take_sqlite(database_file(), into)
    return take_postgresql(into)


def put_copy(copy: Path) -> dict[str, int]:
    """Make the empty database in use what the copy holds; return its row counts."""
    if connection.vendor == "sqlite":
        return put_sqlite(copy, database_file())
    run(
        "pg_restore",
        "--exit-on-error",
        "--single-transaction",
        "--no-owner",
        "--no-privileges",
        f"--dbname={connection.settings_dict['NAME']}",
        str(copy),
    )
    with closing(psycopg.connect(**address_of_database())) as line:
        return _counts_of_postgresql(line)


def is_place_empty() -> bool:
    """Tell whether the database in use has no table at all."""
    return not connection.introspection.table_names()


def engine_version() -> str:
    """Return the version of the database's own program."""
    if connection.vendor == "sqlite":
        return sqlite3.sqlite_version
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version")
        return str(cursor.fetchone()[0])


def database_file() -> Path:
    return Path(os.fspath(connection.settings_dict["NAME"]))


# --- SQLite -------------------------------------------------------------------


def take_sqlite(path: Path, into: Path) -> dict[str, int]:
    with (
        closing(sqlite3.connect(path, timeout=_LOCK_WAIT_S)) as source,
        closing(sqlite3.connect(into)) as copy,
    ):
        source.backup(copy, pages=-1)
    return counts_of_sqlite(into)


def put_sqlite(copy: Path, path: Path) -> dict[str, int]:
    """Take the copy's file for the database's own, once it is seen to be whole."""
    counts = counts_of_sqlite(copy)
    connection.close()
    shutil.copyfile(copy, fresh := path.with_name(f"{path.name}.new"))
    fresh.chmod(0o600)
    fresh.replace(path)
    return counts


def counts_of_sqlite(path: Path) -> dict[str, int]:
    """Return the rows of each table; raises NoBackupError for a broken file."""
    try:
        with closing(sqlite3.connect(path)) as copy:
            verdict = [row[0] for row in copy.execute("PRAGMA quick_check(1)")]
            if verdict != ["ok"]:
                raise sqlite3.DatabaseError(verdict[0])
            names = copy.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table' "
                "AND name NOT LIKE 'sqlite!_%' ESCAPE '!' ORDER BY name"
            ).fetchall()
            return {
                name: copy.execute(f'SELECT COUNT(*) FROM "{name}"').fetchone()[0]  # noqa: S608  a table's own name
                for (name,) in names
            }
    except sqlite3.DatabaseError as error:
        msg = f"The copy is not whole: {error}."
        raise NoBackupError(msg) from error


# --- PostgreSQL ---------------------------------------------------------------


def take_postgresql(into: Path) -> dict[str, int]:
    # A line of its own: not the pool's, whose statements end after some seconds.
    with closing(psycopg.connect(**address_of_database())) as line:
        line.isolation_level = psycopg.IsolationLevel.REPEATABLE_READ
        line.read_only = True
        snapshot = line.execute("SELECT pg_export_snapshot()").fetchone()
        run(
            "pg_dump",
            "--format=custom",
            f"--snapshot={(snapshot or ('',))[0]}",
            "--no-owner",
            "--no-privileges",
            f"--file={into}",
        )
        return _counts_of_postgresql(line)


def _counts_of_postgresql(line: "psycopg.Connection[Any]") -> dict[str, int]:
    names = line.execute(
        "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
    ).fetchall()
    counted: dict[str, int] = {}
    for (name,) in names:
        count = sql.SQL("SELECT COUNT(*) FROM {}").format(sql.Identifier(name))
        row = line.execute(count).fetchone()
        counted[name] = row[0] if row else 0
    return counted


def address_of_database() -> dict[str, Any]:
    """Return how the database in use is reached, without the limits of a page."""
    parameters = connection.get_connection_params()
    return {name: parameters[name] for name in _OF_CONNECTION if parameters.get(name)}


def run(program: str, *words: str) -> None:
    """Run one of PostgreSQL's own programs; the password goes by the environment."""
    where = shutil.which(program)
    if where is None:
        msg = (
            f"{program} is absent: install PostgreSQL's client programs (Debian: "
            "postgresql-client) of the server's version or newer."
        )
        raise NoBackupError(msg)
    address = {
        _OF_CONNECTION[name]: str(value)
        for name, value in address_of_database().items()
    }
    done = subprocess.run(  # noqa: S603  PostgreSQL's own, with our words
        [where, *words],
        env=_without_ours(os.environ) | address,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        lines = done.stderr.strip().splitlines() or ["no reason given"]
        msg = f"{program}: {lines[-1]}"
        raise NoBackupError(msg)


def _without_ours(environment: Mapping[str, str]) -> dict[str, str]:
    return {k: v for k, v in environment.items() if not k.startswith("PG")}
