"""
Old data: the demo club as an earlier commit played it, brought up to today.

`old/` holds SQL dumps of a data folder, without passwords and sessions.
"""

import gzip
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
BEFORE_WITH_A_MEMBER = HERE / "old" / "demo_before_with_a_member.sql.gz"

LAST_MOVE = (
    "(SELECT move FROM inventory_partmove m WHERE m.part_id = p.id "
    "ORDER BY id DESC LIMIT 1)"
)
ON_A_CAR_NOW = (
    "EXISTS (SELECT 1 FROM inspection_fittedpart f "
    "WHERE f.part_id = p.id AND f.removed_at IS NULL)"
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("old")
    folder.chmod(0o700)
    with closing(sqlite3.connect(folder / "feelerbook.sqlite3")) as old:
        old.executescript(gzip.decompress(BEFORE_WITH_A_MEMBER.read_bytes()).decode())
        out = old.execute(
            "SELECT COUNT(*) FROM inventory_part WHERE state = 'fitted'"
        ).fetchone()
    # As that commit told: handed out and fitted were one word.
    assert out == (74,)
    manage(folder, "migrate")
    return folder


@pytest.fixture
def database(folder: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(folder / "feelerbook.sqlite3")) as now:
        yield now


def manage(folder: Path, *words: str) -> None:
    environment = os.environ | {
        "FEELERBOOK_DATA": str(folder),
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
    }
    done = subprocess.run(
        [sys.executable, "manage.py", *words, "-v0"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]


def test_what_was_handed_out_is_with_a_member_and_what_was_fitted_on_a_car(
    database: sqlite3.Connection,
) -> None:
    found = database.execute(
        f"SELECT p.state, {LAST_MOVE}, {ON_A_CAR_NOW}, p.holder_id IS NULL, COUNT(*) "
        "FROM inventory_part p GROUP BY 1, 2, 3, 4"
    ).fetchall()
    out = {row for row in found if row[0] in {"with a member", "on a car"}}
    assert out == {
        ("with a member", "hand out", 0, 0, 2),
        ("on a car", "fit", 1, 1, 72),
    }
    assert "fitted" not in {row[0] for row in found}


def test_the_rest_stays_where_it_was(database: sqlite3.Connection) -> None:
    states = dict(
        database.execute("SELECT state, COUNT(*) FROM inventory_part GROUP BY 1")
    )
    assert states["in stock"] == 88
    assert states["reserved"] == states["retired"] == 1


def test_every_seal_of_then_still_holds(folder: Path) -> None:
    manage(folder, "check_seals")


def test_the_moves_of_then_are_kept_as_they_were(
    database: sqlite3.Connection,
) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="never changed"):
        database.execute("UPDATE inventory_partmove SET note = 'x'")
