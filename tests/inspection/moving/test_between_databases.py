"""A club moves from SQLite to PostgreSQL and back, and is the same in each."""

import json
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from deploy.throwaway_postgresql import bin_folder, throwaway_postgresql
from tests.inspection.moving.worker import PASSWORD

#: The program itself takes some 120; a page of rows and a hundred sheets are little.
MOST_MIB = 300


@pytest.fixture
def postgresql() -> Iterator[str]:
    folder = bin_folder()
    assert folder, "The test of moving between databases needs PostgreSQL."
    with throwaway_postgresql(folder) as address:
        # A new cluster has one database, of this name.
        yield address.replace("/feelerbook?", "/postgres?")


def run(place: str | Path, *words: str) -> str:
    """Run a command on a database; gives what it printed."""
    command = [sys.executable, "-m", "tests.inspection.moving.worker", str(place)]
    done = subprocess.run(
        [*command, *words],
        input=f"{PASSWORD}\n",
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    peak = re.search(r"peak (\d+) MiB", done.stdout)
    assert peak is not None
    if words[0] in {"take_out_club", "bring_in_archive"}:
        assert int(peak[1]) < MOST_MIB
    return done.stdout


def digests(file: Path) -> dict[str, str]:
    """Give each table's hash, but of the audit that the moving itself writes."""
    with zipfile.ZipFile(file) as archive:
        said: dict[str, Any] = json.loads(archive.read("datapackage.json"))
    found = {one["name"]: one["hash"] for one in said["resources"]}
    # A check that falls on a new day links the audit rows that came in since.
    for grows in ("inventory_auditrow", "inspection_auditlink", "inspection_sealcheck"):
        del found[grows]
    return found


def move(made_in: Path, postgresql: str, folder: Path) -> Path:
    """Move a club to PostgreSQL and back; gives the archive that it was made into."""
    files = [folder / f"{place}.zip" for place in ("first", "second", "third")]
    places = [postgresql, str(folder / "back.sqlite3")]
    run(made_in, "take_out_club", str(files[0]))
    before = seals(made_in)
    for place, file, after in zip(places, files, files[1:], strict=False):
        run(place, "migrate", "--verbosity=0")
        said = run(place, "bring_in_archive", str(file), "--admin", "winifred")
        assert " rows.\n" in said
        assert seals(place) == before
        run(place, "take_out_club", str(after))
        assert digests(after) == digests(files[0])
    return files[0]


def seals(place: str | Path) -> list[str]:
    """Check every seal; gives what is said of them."""
    said = run(place, "check_seals")
    return [line for line in said.splitlines() if not line.startswith("peak ")]


def test_small_club_is_the_same_in_either_database(
    postgresql: str, tmp_path: Path
) -> None:
    made_in = tmp_path / "club.sqlite3"
    run(made_in, "make", "0", "0", "0")
    archive = move(made_in, postgresql, tmp_path)
    assert seals(made_in)[-1].endswith(" seals hold.")
    with zipfile.ZipFile(archive) as members:
        assert len([name for name in members.namelist() if "sheets/" in name]) > 20


@pytest.mark.long
def test_large_club_is_the_same_in_either_database(
    postgresql: str, tmp_path: Path
) -> None:
    """
    Two thousand cars, twenty thousand parts, three hundred nights.

    Whatever the check says of the seals of a club that was copied together, it says
    of them after each move.
    """
    made_in = tmp_path / "club.sqlite3"
    run(made_in, "make", "300", "2000", "20000")
    archive = move(made_in, postgresql, tmp_path)
    with zipfile.ZipFile(archive) as members:
        said: dict[str, Any] = json.loads(members.read("datapackage.json"))
    rows = {one["name"]: one["rows"] for one in said["resources"]}
    assert rows["inspection_racenight"] >= 300
    assert rows["inspection_car"] >= 2000
    assert rows["inventory_part"] >= 20_000
