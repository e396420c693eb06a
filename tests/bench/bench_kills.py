"""
Kill the server, or PostgreSQL, hundreds of times while four people write.

``python -m tests.bench.bench_kills`` takes SQLite, ``--postgresql`` the other; with
``--kills``, ``--database-kills`` and ``--readings`` as many as are wanted.  Prints what
was acknowledged, lost and doubled, and ends with 1 if anything was.  The short form is
in `tests/faults/test_kills.py`.
"""

import argparse
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

import psycopg

from tests.deploy.servers import (
    ROOT,
    clean_environment,
    free_port,
    manage,
    shared_environment,
)
from tests.faults.database_server import DatabaseServer, database_server
from tests.faults.kills import (
    READINGS_A_SHEET,
    Server,
    Writer,
    gunicorn_server,
    hammer,
    kill_all,
    local_server,
    served,
)

ASKED = "SELECT reading_id FROM inspection_sheetreading"
SET_UP = "tests.bench.bench_kills"


@contextmanager
def on_sqlite(folder: Path) -> Iterator[tuple[Server, dict[str, str], None]]:
    environment = {
        "FEELERBOOK_DATA": str(folder / "club"),
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
    }
    yield local_server(str(folder / "club"), free_port()), environment, None


@contextmanager
def on_postgresql(
    folder: Path,
) -> Iterator[tuple[Server, dict[str, str], DatabaseServer]]:
    with database_server() as database:
        environment = shared_environment(folder, database.by_socket)
        yield gunicorn_server(environment, free_port()), environment, database


def kill_database(database: DatabaseServer) -> None:
    """Kill every process of PostgreSQL, and start it: it recovers from its log."""
    assert database.process is not None
    kill_all(database.process.pid)
    database.process.wait(30)
    database.start()


def made_by(environment: Mapping[str, str], *words: str) -> Any:
    """Run a module in an environment; give the JSON that it prints."""
    done = subprocess.run(
        [sys.executable, "-m", *words],
        cwd=ROOT,
        env=clean_environment() | dict(environment),
        check=True,
        capture_output=True,
        text=True,
    )
    return json.loads(done.stdout)


def writers_of(environment: Mapping[str, str], sheets: int) -> list[Writer]:
    made = made_by(environment, SET_UP, "--make", str(sheets))
    return [Writer(**said) for said in made]


def kept(environment: Mapping[str, str]) -> Counter[str]:
    """Count the readings that are kept, past all of Django."""
    if "DATABASE_URL" in environment:
        with closing(psycopg.connect(environment["DATABASE_URL"])) as line:
            return Counter(str(row[0]) for row in line.execute(ASKED))
    file = Path(environment["FEELERBOOK_DATA"]) / "feelerbook.sqlite3"
    with closing(sqlite3.connect(file)) as line:
        return Counter(str(uuid.UUID(row[0])) for row in line.execute(ASKED))


def run(asked: argparse.Namespace) -> int:
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="fb-kills-") as name:
        folder = Path(name)
        installed = on_postgresql if asked.postgresql else on_sqlite
        with installed(folder) as (server, environment, database):
            manage(environment, "upgrade")
            sheets = max(asked.readings // READINGS_A_SHEET, 4)
            writers = writers_of(environment, sheets)
            kills: list[Callable[[], None]] = [server.kill] * asked.kills
            if database is not None and asked.database_kills:
                step = max(len(kills) // asked.database_kills, 1)
                for place in range(asked.database_kills):
                    kills.insert(place * (step + 1), lambda: kill_database(database))
            with served(server):
                most = sheets * READINGS_A_SHEET
                outcome = hammer(server, writers, kills=kills, most=most)
            there = kept(environment)
            manage(environment, "check_seals")
    lost = outcome.readings - set(there)
    doubled = [number for number, count in there.items() if count > 1]
    print(
        f"{len(kills)} kills, {len(outcome.readings)} readings and "
        f"{len(outcome.sealed)} seals acknowledged, {outcome.tries} sent; lost "
        f"{len(lost)}, doubled {len(doubled)}, odd answers {len(outcome.odd)}; every "
        f"seal holds; {time.monotonic() - begun:.0f} s."
    )
    for odd in outcome.odd[:10]:
        print(odd)
    return 1 if lost or doubled or outcome.odd else 0


def make(sheets: int) -> None:
    """Make the club in the database that the environment names; print who writes."""
    import django  # noqa: PLC0415  only in the child

    django.setup()
    from tests.faults.kills import make_writers  # noqa: PLC0415

    print(json.dumps([asdict(writer) for writer in make_writers(sheets=sheets)]))


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--database-kills", type=int, default=20)
    parser.add_argument("--readings", type=int, default=20_000)
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--make", type=int, metavar="SHEETS", help="used by itself")
    return parser.parse_args()


if __name__ == "__main__":
    said = arguments()
    if said.make:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.local")
        make(said.make)
        sys.exit(0)
    sys.exit(run(said))
