"""A new installation's tables, made at once, are those that step after step makes."""

import os
import re
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.deploy.servers import ROOT, clean_environment

# SQLite holds to no length; the table is not made anew for one.
LENGTHS = re.compile(r"varchar\(\d+\)")
# A process of its own: what carries rows over asks for the connection by its name.
MIGRATE = """
import sys
import django
django.setup()
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
at_once = sys.argv[1] == "at once"
executor = MigrationExecutor(connection)
executor.loader = MigrationLoader(connection, replace_migrations=at_once)
leaves = executor.loader.graph.leaf_nodes()
executor.migrate([one for one in leaves if at_once or "_squashed_" not in one[1]])
"""


def made(folder: Path, how: str) -> dict[tuple[str, ...], Any]:
    """Make the tables of both apps in a folder; give what the file says of them."""
    settings = {
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
        "FEELERBOOK_DATA": str(folder),
        "PYTHONPATH": os.fspath(ROOT),
    }
    subprocess.run(
        [sys.executable, "-c", MIGRATE, how],
        cwd=ROOT,
        env=clean_environment() | settings,
        check=True,
    )
    with sqlite3.connect(folder / "feelerbook.sqlite3") as raw:
        return dict(facts(raw))


def facts(raw: sqlite3.Connection) -> Any:
    stored = raw.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")
    for kind, name, table, sql in stored.fetchall():
        if kind == "table":
            # Made anew, a table may have its columns and checks in another order.
            plain = LENGTHS.sub("varchar", (sql or "").replace('"', ""))
            yield (kind, name), sorted(re.split(r"[ ,()]+", plain))
        elif kind == "index":
            # An index of Django's own is named by what it was made for first.
            yield (kind, table, re.sub(r"INDEX \S+", "INDEX", sql or name)), True
        else:
            yield (kind, name), sql


@pytest.mark.long
def test_at_once_makes_what_step_after_step_makes(tmp_path: Path) -> None:
    (tmp_path / "steps").mkdir()
    (tmp_path / "once").mkdir()
    steps = made(tmp_path / "steps", "step after step")
    at_once = made(tmp_path / "once", "at once")
    assert len(steps) > 300
    assert {k: v for k, v in steps.items() if at_once.get(k) != v} == {}
    assert at_once.keys() == steps.keys()
