"""
The disk is full: a clear answer, nothing torn, and work again once there is room.

A real disk of a few megabytes under the real server.  507 is Insufficient Storage
(RFC 4918, 11.5).
"""

import re
import sqlite3
import subprocess
import urllib.error
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

from deploy.starting.data_folder import DATABASE
from tests.deploy.servers import ROOT, SERVE, clean_environment, fetch, running
from tests.faults.small_disk import fill, small_disk

PASSWORD = "four quiet wheels turn"


class Visitor:
    """A browser without scripts, who begins the club and adds people."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.open = build_opener(HTTPCookieProcessor(CookieJar())).open

    def post(self, path: str, typed: dict[str, str]) -> tuple[int, str | None]:
        """Send a form with its token; return the status and when to come again."""
        page = self.open(self.address + path, timeout=60).read().decode()
        found = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
        assert found is not None
        form = urlencode({"csrfmiddlewaretoken": found[1], **typed}).encode()
        try:
            with self.open(self.address + path, form, timeout=60) as answer:
                return answer.status, None
        except urllib.error.HTTPError as refused:
            refused.close()
            return refused.code, refused.headers["Retry-After"]

    def add(self, name: str) -> tuple[int, str | None]:
        typed = {"name": name, "sign_in_name": name, "roles": "member"}
        return self.post("people/new", typed | {"password": PASSWORD})

    def count(self, name: str) -> int:
        with self.open(f"{self.address}people", timeout=60) as page:
            text: str = page.read().decode()
        return text.count(name)


def begin(lines: list[str], address: str) -> Visitor:
    """Begin the club at the address that the start printed."""
    visitor = Visitor(address)
    (path,) = [
        found[1] for line in lines if (found := re.search(r"(begin/[\w-]+)", line))
    ]
    typed = {"name": "Ada", "sign_in_name": "ada", "club": "A hall"}
    words = {"password": PASSWORD, "password_again": PASSWORD}
    assert visitor.post(path, typed | words)[0] == 200
    return visitor


def test_a_full_disk_is_said_and_what_was_acknowledged_is_there(
    tmp_path: Path,
) -> None:
    with small_disk(tmp_path / "disk", megabytes=24) as disk:
        words = [*SERVE, "--port=0", f"--data={disk}", "--no-demo"]
        with running(*words) as (_, address, lines):
            ada = begin(lines, address)
            assert ada.add("first-there")[0] == 200
            ballast = fill(disk)
            # What is in the database's own free pages may still be written.
            refused = [ada.add(f"while-full-{n}") for n in range(20)]
            assert (507, "60") in refused
            assert {status for status, _ in refused} <= {200, 507}
            kept = [n for n, (status, _) in enumerate(refused) if status == 200]
            # Reading goes on.
            assert ada.count("first-there")
            assert fetch(f"{address}ready") == (200, "ready\n")
            ballast.unlink()
            assert ada.add("afterwards")[0] == 200
            assert ada.count("afterwards")
            for n in range(20):
                assert bool(ada.count(f"while-full-{n}<")) == (n in kept), n
        database = sqlite3.connect(disk / DATABASE)
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        database.close()


@pytest.mark.parametrize("megabytes", [0, 1])
def test_a_start_on_a_full_disk_says_so_and_starts_once_there_is_room(
    tmp_path: Path, megabytes: int
) -> None:
    with small_disk(tmp_path / "disk", megabytes=24) as disk:
        words = [*SERVE, "--port=0", f"--data={disk}", "--no-demo"]
        ballast = fill(disk)
        with ballast.open("r+b") as file:
            file.truncate(ballast.stat().st_size - megabytes * 1024 * 1024)
        done = subprocess.run(
            words,
            cwd=ROOT,
            env=clean_environment(),
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert (done.returncode, "Traceback" in done.stderr) == (1, False), done
        assert f"The disk that holds {disk} is full" in done.stderr
        ballast.unlink()
        with running(*words) as (_, address, _lines):
            assert fetch(f"{address}ready") == (200, "ready\n")
