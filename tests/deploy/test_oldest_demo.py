"""
The oldest data that is kept: the demo club as commit debbcad played it.

Upgraded as a server does it: a backup first, then every migration since.  Nothing of
what was recorded is lost, and every seal of then holds.  The dump has no passwords and
no sessions.
"""

import gzip
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from tests.deploy.servers import ROOT, clean_environment

OLD = Path(__file__).parent / "old" / "demo_with_eight_migrations.sql.gz"
KEPT = ("inspection_seal", "inspection_sheetreading", "inventory_part")


def counts(path: Path) -> dict[str, int]:
    with closing(sqlite3.connect(path)) as line:
        return {
            table: line.execute(f"SELECT COUNT(*) FROM {table}").fetchone()[0]
            for table in KEPT
        }


@pytest.mark.long
def test_the_oldest_club_is_upgraded_behind_a_backup_and_keeps_its_seals(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "club"
    folder.mkdir(mode=0o700)
    file = folder / "feelerbook.sqlite3"
    with closing(sqlite3.connect(file)) as old:
        old.executescript(gzip.decompress(OLD.read_bytes()).decode())
    before = counts(file)
    assert min(before.values()) > 0
    environment = clean_environment() | {
        "FEELERBOOK_DATA": str(folder),
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
    }
    for words in (["upgrade"], ["check_seals"]):
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=environment,
            check=False,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr[-2000:]
    assert f"{before['inspection_seal']} seals hold." in done.stdout
    assert counts(file) == before
    (backup,) = (folder / "backups").glob("*-upgrade.zip")
    with zipfile.ZipFile(backup) as packed:
        packed.extract("database.sqlite3", tmp_path)
    assert counts(tmp_path / "database.sqlite3") == before
