"""
A server as the guide installs it: two web machines, one PostgreSQL, and its drill.

Two gunicorns stand for the machines: they share the database and nothing else.  The
service's user in PostgreSQL may do only what the guide lets it do.
"""

import http.client
import re
import subprocess
import sys
import time
import urllib.parse
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

import psycopg
import pytest

from deploy.throwaway_postgresql import START_WITHIN_S, bin_folder, throwaway_postgresql
from tests.deploy.guide.blocks import blocks, private, run, settings_of_the_guide
from tests.deploy.servers import (
    NAME,
    ROOT,
    Door,
    clean_environment,
    gunicorn,
    nginx,
)

pytestmark = pytest.mark.long
PASSWORD = "four quiet wheels turn"


class Installation(NamedTuple):
    """Where the places of the guide are in this test, and its settings."""

    places: dict[str, str]
    environment: dict[str, str]
    keeper: dict[str, str]
    begin: str


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Installation]:
    found = bin_folder()
    assert found
    folder = private(tmp_path_factory.mktemp("guide") / "lib")
    with throwaway_postgresql(found) as address:
        socket = address.partition("host=")[2]
        places = {"/var/lib/feelerbook": str(folder), "/run/postgresql": socket}
        keeper = {"PGHOST": socket, "PGUSER": "keeper", "PGDATABASE": "postgres"}
        give_the_name_free(socket)
        run("database", {}, **keeper)
        said = settings_of_the_guide()
        said["DATABASE_URL"] = said["DATABASE_URL"].replace("/run/postgresql", socket)
        run("by hand", places, **said)
        environment = said | {
            "DJANGO_SETTINGS_MODULE": "deploy.settings.shared",
            "FEELERBOOK_STATIC": f"{folder}/static",
            "FEELERBOOK_BACKUPS": f"{folder}/backups",
        }
        printed = run("first admin", {}, **environment)
        begin = re.search(r"Begin your club: https://desk\.example(\S+)", printed)
        assert begin is not None
        yield Installation(places, environment, keeper, begin[1])


def give_the_name_free(socket: str) -> None:
    """Let the test cluster's superuser, who has the service's name, have another."""
    deadline = time.monotonic() + START_WITHIN_S
    while subprocess.run(["pg_isready", "-q", "-h", socket], check=False).returncode:
        assert time.monotonic() < deadline
        time.sleep(0.1)
    with psycopg.connect(host=socket, user="feelerbook", dbname="postgres") as line:
        line.execute("CREATE ROLE keeper SUPERUSER LOGIN")
    with psycopg.connect(host=socket, user="keeper", dbname="postgres") as line:
        line.execute("ALTER ROLE feelerbook RENAME TO first")


class Visitor:
    """A browser without scripts, at the proxy or at one of the machines."""

    def __init__(self) -> None:
        self.cookies: dict[str, str] = {}

    def ask(self, door: Door, path: str, **form: str) -> tuple[int, str]:
        line = http.client.HTTPConnection(NAME, door.port, timeout=60)
        line.sock = door.connect(timeout=60)
        # As browsers do, it names a port that is not the usual one.
        host = f"{NAME}:{door.port}" if door.tls else NAME
        headers = {
            "Host": host,
            "Origin": f"https://{host}",
            "Referer": f"https://{host}/",
            "X-Forwarded-Proto": "https",
            "Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items()),
            "Content-Type": "application/x-www-form-urlencoded",
        }
        body = urllib.parse.urlencode(form) if form else None
        with closing(line):
            line.request("POST" if form else "GET", path, body, headers)
            answer = line.getresponse()
            text = answer.read().decode()
            for said in answer.headers.get_all("Set-Cookie") or ():
                name, _, value = said.partition(";")[0].partition("=")
                self.cookies[name] = value
        return answer.status, text

    def send(self, door: Door, path: str, *, on: str = "", **form: str) -> int:
        """Send a form of its own page, or of another one; return the status."""
        _, page = self.ask(door, on or path)
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
        assert token is not None, page
        return self.ask(door, path, csrfmiddlewaretoken=token[1], **form)[0]


def count(place: Installation, asked: str) -> int:
    with psycopg.connect(place.environment["DATABASE_URL"]) as line:
        row = line.execute(asked).fetchone()
    assert row is not None
    return int(row[0])


def test_two_machines_are_one_desk_and_one_does_what_the_clock_says(
    installed: Installation, tmp_path: Path
) -> None:
    here = [private(tmp_path / name) for name in ("one", "two", "proxy")]
    visitor = Visitor()
    with gunicorn(here[0], installed.environment) as (_, two):
        with gunicorn(here[1], installed.environment) as (_, one):
            group = blocks()["upstream"]
            for machine, port in (("10.0.0.11:8000", one), ("10.0.0.12:8000", two)):
                group = group.replace(machine, f"127.0.0.1:{port}")
            with nginx(here[2], group=group) as (_, proxy):
                founder = {"sign_in_name": "rosa", "name": "Rosa", "password": PASSWORD}
                assert visitor.send(proxy, installed.begin, **founder) == 302
                # Signed in by one of them, known to both.
                for port in (one, two):
                    status, page = visitor.ask(Door(port=port), "/password")
                    assert (status, "Rosa" in page) == (200, True)
                both_at_once(installed)
                for _ in range(6):
                    assert visitor.ask(proxy, "/password")[0] == 200
                # What one has written the other knows at once.
                stopped = Visitor()
                stopped.cookies = dict(visitor.cookies)
                assert visitor.send(Door(port=one), "/sign-out", on="/password") == 302
                assert stopped.ask(Door(port=two), "/password")[0] == 302
        with nginx(private(tmp_path / "again"), group=group) as (_, proxy):
            # One of the two is gone: everybody is served by the other.
            for _ in range(6):
                assert visitor.ask(proxy, "/sign-in")[0] == 200


def both_at_once(installed: Installation) -> None:
    """Let both machines' timers go off in the same moment: one backup, one check."""
    before = count(installed, "SELECT COUNT(*) FROM inspection_sealcheck")
    for work in ("backup", "seals"):
        both = [
            subprocess.Popen(
                [sys.executable, "manage.py", "scheduled", work],
                cwd=ROOT,
                env=clean_environment() | installed.environment,
            )
            for _ in range(2)
        ]
        assert [process.wait(120) for process in both] == [0, 0]
    made = "SELECT COUNT(*) FROM inventory_auditrow WHERE event = 'backup.made'"
    assert count(installed, made) == 1
    kept = Path(installed.environment["FEELERBOOK_BACKUPS"])
    assert len(list(kept.glob("*.zip"))) == 1
    assert count(installed, "SELECT COUNT(*) FROM inspection_sealcheck") == before + 1


def test_the_drill_of_the_guide_ends_with_its_seals_held(
    installed: Installation,
) -> None:
    run("drill database", {}, **installed.keeper)
    said = run("drill", installed.places, **installed.environment)
    assert said.rstrip().endswith("seals hold.")
