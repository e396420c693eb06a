"""
Load a race night: eight scrutineers read, two hundred members look, for a minute.

``python -m tests.bench.bench_load`` takes waitress with SQLite, ``--postgresql``
gunicorn with PostgreSQL; ``--seconds`` as long as is wanted.  Everything stays on the
loopback and ends by itself.  Beside each time stands that of ``/live`` under the same
load; at last the eight read as fast as they are answered.  Ends with 1 if any answer
was not what it should be.
"""

import argparse
import contextlib
import http.client
import json
import os
import random
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import psutil

from tests.bench.bench_kills import made_by, on_postgresql, on_sqlite
from tests.bench.figures import Figure
from tests.bench.shown import Shown
from tests.deploy.servers import manage
from tests.faults.kills import FORM, READINGS_A_SHEET, Server, Writer, form, served

SCRUTINEERS, MEMBERS = 8, 200
#: How long one reading takes by hand, and how long a member reads a page.
READING_S, PAGE_S = 2.0, 10.0
#: The page's script asks for drawings and folds when the hand rests so long.
REST_S = 0.4
#: As fast as they are answered, for so long.
RUSH_S = 10.0
#: Ninety-six cars: eighty are a large night.
SHEETS_EACH = 12
PAGES: Final = ("/", "/mine", "/cars", "/parts", "/fit", "/rulebooks", "/nights")
SET_UP = "tests.bench.bench_load"
GOOD: Final = {
    **dict.fromkeys(("reading", "page", "block", "/live"), frozenset({"200"})),
    "follows": frozenset({"200", "204"}),
}


@dataclass
class Club:
    """Who reads, and who looks: sessions."""

    writers: list[Writer]
    members: list[str]


@dataclass
class Times:
    """Seconds of each kind of answer, and what was not as it should be."""

    of: dict[str, list[float]] = field(default_factory=dict)
    odd: Counter[str] = field(default_factory=Counter)

    def p95(self, kind: str) -> float:
        return float(np.percentile(self.of[kind], 95))


class Visitor:
    """A browser with one line to the server, kept while it lasts."""

    def __init__(self, server: Server, session: str, times: Times) -> None:
        self.server, self.session, self.times = server, session, times
        self.line: http.client.HTTPConnection | None = None

    def ask(
        self, kind: str, path: str, said: Mapping[str, object] | None = None
    ) -> bytes:
        """Ask, and give what came back."""
        headers = self.server.headers_of(self.session)
        body = None
        if said is not None:
            body = form(said)
            headers |= FORM
        elif kind == "follows":
            headers |= {"Accept": "application/json"}
        begun = time.perf_counter()
        method = "GET" if body is None else "POST"
        status, got = self._answer(method, path, body, headers)
        self.times.of.setdefault(kind, []).append(time.perf_counter() - begun)
        if status not in GOOD[kind]:
            self.times.odd[f"{kind} {path.split('/')[1]}: {status}"] += 1
            return b""
        return got

    def _answer(
        self, method: str, path: str, body: str | None, headers: Mapping[str, str]
    ) -> tuple[str, bytes]:
        """Ask; once more on a new line where the server had closed the old one."""
        for is_new in (self.line is None, True):
            if self.line is None:
                self.line = http.client.HTTPConnection(
                    "127.0.0.1", self.server.port, timeout=30
                )
            try:
                self.line.request(method, path, body, dict(headers))
                answer = self.line.getresponse()
                got = answer.read()
            except (OSError, http.client.HTTPException) as error:
                self.line.close()
                self.line = None
                if is_new:
                    return repr(error), b""
            else:
                return str(answer.status), got
        return "no line", b""


def read_on(
    visitor: Visitor, writer: Writer, *, pause: float, over: threading.Event
) -> None:
    """Fill sheet after sheet with readings; what follows one is asked in a pause."""
    while writer.sheets:
        shown = Shown(writer.sheets.pop())
        shown.opened(visitor.ask("block", shown.block).decode())
        for number in range(READINGS_A_SHEET):
            if over.wait(pause * random.uniform(0.5, 1.5)):
                return
            said = writer.reading(number) | {"have": shown.have}
            path = f"/sheet/{shown.number}/reading"
            shown.learn_from(visitor.ask("reading", path, said))
            if pause and over.wait(REST_S):
                return
            if pause:
                shown.learn_from(visitor.ask("follows", shown.news))


def look_on(visitor: Visitor, *, over: threading.Event) -> None:
    """Open page after page, and read each for a while."""
    while not over.wait(PAGE_S * random.uniform(0, 2)):
        visitor.ask("page", random.choice(PAGES))


def ask_live(visitor: Visitor, *, over: threading.Event) -> None:
    while not over.wait(0.2):
        visitor.ask("/live", "/live")


def readers(
    server: Server, club: Club, times: Times, *, pause: float, over: threading.Event
) -> list[threading.Thread]:
    """Give a thread for each who reads, with so long between two readings."""
    return [
        threading.Thread(
            target=read_on,
            args=(Visitor(server, writer.session, times), writer),
            kwargs={"pause": pause, "over": over},
        )
        for writer in club.writers
    ]


@contextlib.contextmanager
def crowd(server: Server, club: Club, times: Times) -> Iterator[None]:
    """Let all of them come, until the end of the block."""
    over = threading.Event()
    threads = readers(server, club, times, pause=READING_S, over=over)
    threads += [
        threading.Thread(
            target=look_on,
            args=(Visitor(server, member, times),),
            kwargs={"over": over},
        )
        for member in club.members
    ]
    threads.append(
        threading.Thread(
            target=ask_live, args=(Visitor(server, "", times),), kwargs={"over": over}
        )
    )
    for thread in threads:
        thread.start()
    try:
        yield
    finally:
        over.set()
        for thread in threads:
            thread.join(60)


def memory_mib(server: Server) -> float:
    """Weigh the server with all it started; what they share is counted once."""
    assert server.process is not None
    main = psutil.Process(server.process.pid)
    whole = (main, *main.children(recursive=True))
    return sum(one.memory_full_info().pss for one in whole) / 2**20


def rush(server: Server, club: Club) -> tuple[float, Times]:
    """Return readings a second where nobody waits between two."""
    times, over = Times(), threading.Event()
    threads = readers(server, club, times, pause=0.0, over=over)
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    over.wait(RUSH_S)
    over.set()
    for thread in threads:
        thread.join(60)
    took = time.perf_counter() - begun
    return len(times.of["reading"]) / took, times


def run(asked: argparse.Namespace) -> int:
    with tempfile.TemporaryDirectory(prefix="fb-load-") as name:
        installed = on_postgresql if asked.postgresql else on_sqlite
        with installed(Path(name)) as (server, environment, _):
            manage(environment, "upgrade")
            if asked.postgresql:
                manage(environment, "collectstatic", "--no-input")
            club = club_in(environment)
            times = Times()
            with served(server):
                with crowd(server, club, times):
                    time.sleep(asked.seconds)
                    heavy = memory_mib(server)
                a_second, rushed = rush(server, club)
            manage(environment, "check_seals")
    on = "gunicorn, PostgreSQL" if asked.postgresql else "waitress, SQLite"
    odd = times.odd + rushed.odd
    for said, count in odd.most_common(10):
        print(f"{count} × {said}")
    for one in figures_of(times, odd, heavy, a_second, on):
        one.say()
    return 1 if odd else 0


def figures_of(
    times: Times, odd: Counter[str], heavy: float, a_second: float, on: str
) -> Iterator[Figure]:
    who = f"{SCRUTINEERS} reading, {MEMBERS} looking ({on})"
    live = times.p95("/live")
    asked = sum(len(some) for some in times.of.values())
    beside = f"`/live` under the same load, p95 {live * 1000:.0f} ms"
    yield Figure(
        what=f"{who}: errors",
        promised="0",
        measured=f"{sum(odd.values())}",
        beside=f"{asked} answers",
    )
    for kind, promised in (("reading", 12), ("page", 8)):
        yield Figure(
            what=f"{who}: a {kind}, p95",
            promised=f"≤ {promised} ×",
            measured=f"{times.p95(kind) / live:.1f} ×",
            beside=beside,
        )
    yield Figure(
        what=f"{on}: memory of the whole service",
        promised="≤ 400 MiB",
        measured=f"{heavy:.0f} MiB",
        beside="proportional set size",
    )
    yield Figure(
        what=f"{on}: readings a second at most",
        promised="≥ 80",
        measured=f"{a_second:.0f}",
        beside=f"{SCRUTINEERS} who do not wait, on the same cores",
    )


def club_in(environment: Mapping[str, str]) -> Club:
    said = made_by(environment, SET_UP, "--make")
    return Club(
        writers=[Writer(**one) for one in said["writers"]], members=said["members"]
    )


def make() -> None:
    """Make the club in the database that the environment names; print who comes."""
    import django  # noqa: PLC0415  only in the child

    django.setup()
    from django.conf import settings  # noqa: PLC0415
    from django.test import Client as Browser  # noqa: PLC0415

    from tests import builders  # noqa: PLC0415
    from tests.faults.kills import make_writers  # noqa: PLC0415

    writers = make_writers(sheets=SCRUTINEERS * SHEETS_EACH, clients=SCRUTINEERS)
    members = []
    for _ in range(MEMBERS):
        browser = Browser()
        browser.force_login(builders.make_person())
        members.append(browser.cookies[settings.SESSION_COOKIE_NAME].value)
    print(json.dumps({"writers": [asdict(one) for one in writers], "members": members}))


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--make", action="store_true", help="used by itself")
    return parser.parse_args()


if __name__ == "__main__":
    said = arguments()
    if said.make:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.local")
        make()
        sys.exit(0)
    sys.exit(run(said))
