"""
Killed while four people write: what was acknowledged is there, and there once.

Their line is cut as well, before the server has heard and after it has written.
The short form of `tests.bench.bench_kills`, which kills hundreds of times.
"""

import dataclasses
import itertools
import os
import sqlite3
import uuid
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from deploy.keeping.copies import address_of_database, database_file, take_sqlite
from tests.conftest import ON_POSTGRESQL
from tests.deploy.servers import free_port, manage, shared_environment
from tests.faults.cut_line import Cut, cut_line
from tests.faults.kills import (
    READINGS_A_SHEET,
    Server,
    gunicorn_server,
    hammer,
    local_server,
    make_writers,
    served,
)

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(os.name == "nt", reason="gunicorn has no Windows"),
]
SHEETS, KILLS = 4, 2
CUTS = (Cut.NOWHERE, Cut.REQUEST, Cut.NOWHERE, Cut.ANSWER, Cut.BODY, Cut.HALF)
ASKED = "SELECT reading_id FROM inspection_sheetreading"


def test_what_was_acknowledged_is_there_once_though_the_server_is_killed(
    tmp_path: Path,
) -> None:
    writers = make_writers(sheets=SHEETS)
    server, environment = installed(tmp_path)
    every = SHEETS * READINGS_A_SHEET
    cuts = itertools.cycle(CUTS)
    with (
        served(server),
        cut_line(server.port, ending="/reading", cuts=cuts) as line,
    ):
        through = dataclasses.replace(server, port=line.port)
        outcome = hammer(through, writers, kills=[server.kill] * KILLS, most=every)
    assert outcome.odd == []
    assert len(outcome.readings) == every
    # More was sent than was acknowledged: the kills and the cuts have hit somebody.
    assert outcome.tries > every + SHEETS
    assert set(line.done) == set(CUTS)
    assert sorted(kept(tmp_path)) == sorted(outcome.readings)
    assert len(outcome.sealed) == SHEETS
    # Walks every seal, its readings and the chain; ends with 1 if one differs.
    manage(environment, "check_seals")


def installed(folder: Path) -> tuple[Server, dict[str, str]]:
    """Give the server over what this test has made, and its settings."""
    if ON_POSTGRESQL:
        said = address_of_database()
        address = f"postgresql://{said['user']}@/{said['dbname']}?host={said['host']}"
        environment = shared_environment(folder, address)
        return gunicorn_server(environment, free_port()), environment
    data = folder / "club"
    data.mkdir(mode=0o700)
    take_sqlite(database_file(), data / "feelerbook.sqlite3")
    environment = {
        "FEELERBOOK_DATA": str(data),
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
    }
    (data / "secret-key").write_text("only-tests-use-this-key-" + "0123456789" * 4)
    return local_server(str(data), free_port()), environment


def kept(folder: Path) -> list[str]:
    """Give the numbers of the readings that are kept, past all of Django."""
    if ON_POSTGRESQL:
        with closing(psycopg.connect(**address_of_database())) as line:
            return [str(row[0]) for row in line.execute(ASKED)]
    with closing(sqlite3.connect(folder / "club" / "feelerbook.sqlite3")) as line:
        return [str(uuid.UUID(row[0])) for row in line.execute(ASKED)]
