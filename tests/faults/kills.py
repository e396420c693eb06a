"""
A server, or its database, killed again and again while clients write readings.

Each client sends a reading until it is acknowledged, under the number that it made
for it, as the block's page does; after so many it seals its sheet and takes the next.
A kill is SIGKILL: nothing is tidied up.
"""

import contextlib
import http.client
import itertools
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from urllib.parse import urlencode

import psutil

from tests.deploy.servers import NAME, ROOT, clean_environment

READINGS_A_SHEET = 12
BACK_WITHIN_S = 60.0
#: What comes with a form of the block's page.
FORM = {
    "Accept": "application/json",
    "Content-Type": "application/x-www-form-urlencoded",
}
_TOKEN = "k" * 32


@dataclass(frozen=True)
class Writer:
    """Somebody signed in, and the sheets they fill."""

    session: str
    sheets: list[str]
    gauge: int

    def reading(self, number: int) -> dict[str, object]:
        """Give what is sent for a reading, under a number made for it."""
        return {
            "reading_id": str(uuid.uuid4()),
            "column": "weight_car",
            "text": f"85.{number % 10}",
            "gauge": self.gauge,
            "confirmed": "1",
        }


def form(said: Mapping[str, object]) -> str:
    """Write a form as a browser sends it."""
    return urlencode({"csrfmiddlewaretoken": _TOKEN, **said})


@dataclass
class Server:
    """What serves, how it is started anew, and under which cookies it is asked."""

    port: int
    command: list[str]
    environment: Mapping[str, str]
    session_cookie: str = "session"
    csrf_cookie: str = "csrf"
    headers: dict[str, str] = field(default_factory=dict)
    process: "subprocess.Popen[bytes] | None" = None

    def start(self) -> None:
        self.process = subprocess.Popen(
            self.command,
            cwd=ROOT,
            env=clean_environment() | dict(self.environment),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + BACK_WITHIN_S
        while not self.is_live():
            assert time.monotonic() < deadline
            assert self.process.poll() is None
            time.sleep(0.05)

    def is_live(self) -> bool:
        with contextlib.suppress(OSError, http.client.HTTPException):
            line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
            with contextlib.closing(line):
                line.request("GET", "/live")
                return line.getresponse().status == 200
        return False

    def headers_of(self, session: str) -> dict[str, str]:
        """Give what a browser that has signed in sends with each request."""
        cookies = {self.session_cookie: session, self.csrf_cookie: _TOKEN}
        return self.headers | {
            "Cookie": "; ".join(f"{k}={v}" for k, v in cookies.items())
        }

    def kill(self) -> None:
        """Kill it and whatever it has started, at once, and start it anew."""
        assert self.process is not None
        kill_all(self.process.pid)
        self.process.wait(30)
        self.start()

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(60)


def kill_all(pid: int) -> None:
    """Kill a process and all that it began, and wait until those are gone."""
    main = psutil.Process(pid)
    # It begins no more while it is looked at: PostgreSQL does not start again beside
    # one that was left over.
    main.suspend()
    begun = main.children(recursive=True)
    for process in (main, *begun):
        with contextlib.suppress(psutil.NoSuchProcess):
            process.kill()
    deadline = time.monotonic() + BACK_WITHIN_S
    while time.monotonic() < deadline and any(_runs(process) for process in begun):
        time.sleep(0.01)


def _runs(process: psutil.Process) -> bool:
    try:
        return process.is_running() and process.status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


@contextlib.contextmanager
def served(server: Server) -> Iterator[Server]:
    server.start()
    try:
        yield server
    finally:
        server.stop()


@dataclass
class Outcome:
    """What was acknowledged, and what was not what it should be."""

    readings: set[str] = field(default_factory=set)
    sealed: set[str] = field(default_factory=set)
    tries: int = 0
    odd: list[str] = field(default_factory=list)


class Client:
    """One browser at one block."""

    def __init__(self, server: Server, writer: Writer, outcome: Outcome) -> None:
        self.server, self.writer, self.outcome = server, writer, outcome
        self.over = threading.Event()

    def run(self) -> None:
        try:
            for sheet in self.writer.sheets:
                for number in range(READINGS_A_SHEET):
                    if self.over.is_set():
                        return
                    self.read(sheet, number)
                self.seal(sheet)
        except BaseException as error:
            self.outcome.odd.append(repr(error))
            raise

    def read(self, sheet: str, number: int) -> None:
        said = self.writer.reading(number)
        own = str(said["reading_id"])
        for status in self.until_answered(f"/sheet/{sheet}/reading", said):
            if status == 200:
                self.outcome.readings.add(own)
            else:
                self.outcome.odd.append(f"reading: {status}")

    def seal(self, sheet: str) -> None:
        path = f"/sheet/{sheet}/seal"
        for status in self.until_answered(path, {"decision": "passed"}):
            if status == 302:
                self.outcome.sealed.add(sheet)
            else:
                self.outcome.odd.append(f"seal: {status}")

    def until_answered(self, path: str, said: Mapping[str, object]) -> Iterator[int]:
        """Send until there is an answer other than “come again”; yield it."""
        deadline = time.monotonic() + 3 * BACK_WITHIN_S
        while time.monotonic() < deadline:
            self.outcome.tries += 1
            status = self.send(path, said)
            if status not in {0, 500, 502, 503, 504}:
                yield status
                return
            time.sleep(0.05)
        self.outcome.odd.append(f"{path}: no answer")

    def send(self, path: str, said: Mapping[str, object]) -> int:
        headers = self.server.headers_of(self.writer.session) | FORM
        body = form(said)
        try:
            line = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=30)
            with contextlib.closing(line):
                line.request("POST", path, body, headers)
                answer = line.getresponse()
                answer.read()
                return answer.status
        except (OSError, http.client.HTTPException):
            return 0


def hammer(
    server: Server,
    writers: list[Writer],
    *,
    kills: list[Callable[[], None]],
    most: int,
) -> Outcome:
    """
    Let the clients write, killing evenly among the readings that are acknowledged.

    Ends when all sheets are full, with all kills done.
    """
    outcome = Outcome()
    clients = [Client(server, writer, outcome) for writer in writers]
    threads = [threading.Thread(target=client.run) for client in clients]
    for thread in threads:
        thread.start()
    every = max(most // (len(kills) + 1), 1)
    try:
        for kill, after in zip(kills, itertools.count(every, every), strict=False):
            while len(outcome.readings) < after and any(t.is_alive() for t in threads):
                time.sleep(0.01)
            kill()
    except BaseException:
        for client in clients:
            client.over.set()
        raise
    finally:
        for thread in threads:
            thread.join(600)
    return outcome


# --- the club that is written to ------------------------------------------------


def make_writers(*, sheets: int, clients: int = 4) -> list[Writer]:
    """Make a night with sheets and people signed in, in the database in use."""
    from django.conf import settings  # noqa: PLC0415  also run as a command
    from django.test import Client as Browser  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from inventory.compute.measuring import Instrument  # noqa: PLC0415
    from inventory.compute.numbers import Unit  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415

    rules = (builders.rule("1", "weight_car", lower=80),)
    night = builders.make_night(builders.make_edition(rules))
    scale = builders.make_gauge(
        instrument=Instrument.SCALE, unit=Unit.GRAM, at=timezone.now()
    )
    writers = []
    for place in range(clients):
        person = builders.make_scrutineer()
        browser = Browser()
        browser.force_login(person)
        own = range(place, sheets, clients)
        numbers = [
            builders.make_sheet(
                entry=builders.make_entry(night=night), by=person
            ).number
            for _ in own
        ]
        session = browser.cookies[settings.SESSION_COOKIE_NAME].value
        writers.append(Writer(session, numbers, scale.pk))
    return writers


def local_server(folder: str, port: int) -> Server:
    """Describe the local server over a data folder."""
    command = [sys.executable, "-m", "deploy.serve", f"--port={port}", "--no-demo"]
    return Server(port, [*command, f"--data={folder}"], {})


def gunicorn_server(environment: Mapping[str, str], port: int) -> Server:
    """Describe gunicorn as its unit starts it."""
    command = [sys.executable, "-m", "gunicorn", "--config=deploy/gunicorn_conf.py"]
    return Server(
        port,
        [*command, "deploy.wsgi"],
        {**environment, "FEELERBOOK_BIND": f"127.0.0.1:{port}"},
        session_cookie="__Host-session",
        csrf_cookie="__Host-csrf",
        headers={
            "Host": NAME,
            "X-Forwarded-Proto": "https",
            "Referer": f"https://{NAME}/",
        },
    )
