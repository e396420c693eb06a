"""
A caliper box: ``python deploy/caliper_box.py ADDRESS --token-file FILE``.

Needs Python 3.11 or later and nothing else.  Reads numbers from a serial line or from
its standard input, one a line, shows what the club's service asks next, and sends each
number to the sheet of the car that stands on the box's block.  A scrutineer puts the
box on the block, on the page Caliper boxes: what it reads is then read by them.

What was read while the service is away waits in a file and is sent in its order; each
reading has a number of its own, so that it is written once however often it is sent.
Where the service asks about a number, send the same one again to confirm it, or
another one, which takes its place.
"""

import argparse
import contextlib
import json
import os
import re
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from collections import deque
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?(?:\s*(?:mm|in|g|\"))?", re.IGNORECASE)
#: Seconds between tries while the service is away, and between looks at what is asked.
AGAIN_AFTER_S = (0.5, 1.0, 2.0, 5.0, 10.0)
LOOK_EVERY_S = 2.0
WAIT_S = 10.0
#: Of these the reading may still be taken: the box waits and tries again.
WAITS_FOR = {"on_no_block", "throttled", "token_unknown"}


@dataclass(frozen=True)
class Reading:
    """One number that was read, and what it was read for."""

    reading_id: str
    sheet: str
    by: int
    column: str
    text: str
    taken_at: str
    confirmed: bool = False


class AwayError(Exception):
    """The service did not answer, or not now."""


class RefusedError(Exception):
    """The service will not take it, and says why."""

    def __init__(self, problem: dict[str, Any]) -> None:
        super().__init__(problem.get("detail", ""))
        self.code = str(problem.get("code", ""))


class Service:
    """The club's service, asked with the box's token."""

    def __init__(self, address: str, token: str) -> None:
        self.address = address.rstrip("/") + "/api/v1/box"
        self.token = token

    def asked(self) -> dict[str, Any]:
        return self._ask("GET", self.address)

    def put(self, reading: Reading) -> dict[str, Any]:
        body = asdict(reading)
        at = f"{self.address}/readings/{body.pop('reading_id')}"
        return self._ask("PUT", at, body)

    def _ask(self, method: str, address: str, body: Any = None) -> dict[str, Any]:
        request = urllib.request.Request(  # noqa: S310  the address is typed
            address,
            method=method,
            data=None if body is None else json.dumps(body).encode(),
            headers={
                "Authorization": f"Bearer {self.token}",
                "Content-Type": "application/json",
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=WAIT_S) as answer:  # noqa: S310
                told: dict[str, Any] = json.load(answer)
                return told
        except urllib.error.HTTPError as error:
            with error:
                raise problem_of(error) from error
        except (OSError, ValueError) as error:
            raise AwayError(str(error)) from error


def problem_of(error: urllib.error.HTTPError) -> Exception:
    """Tell a refusal from a service that is away."""
    try:
        problem = json.load(error)
    except ValueError:
        return AwayError(f"the service answered {error.code}")
    if error.code >= 500 or problem.get("code") in WAITS_FOR:
        return AwayError(str(problem.get("detail", error.code)))
    return RefusedError(problem)


class Queue:
    """Readings that wait, kept in a file until each was answered."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.waiting: deque[Reading] = deque(self._kept())
        self._written()

    def _kept(self) -> Iterator[Reading]:
        if not self.path.exists():
            return
        lines = self.path.read_text(encoding="utf-8").splitlines()
        rows = []
        for line in lines:
            # Cut off in the middle of a line, the last one says nothing.
            with contextlib.suppress(ValueError):
                rows.append(json.loads(line))
        done = {row["done"] for row in rows if "done" in row}
        for row in rows:
            if "done" not in row and row["reading_id"] not in done:
                yield Reading(**row)

    def _written(self) -> None:
        fresh = self.path.with_suffix(".new")
        rows = (json.dumps(asdict(one)) for one in self.waiting)
        fresh.write_text("".join(f"{row}\n" for row in rows), encoding="utf-8")
        fresh.replace(self.path)

    def add(self, reading: Reading) -> None:
        self._append(asdict(reading))
        self.waiting.append(reading)

    def done(self) -> None:
        self._append({"done": self.waiting.popleft().reading_id})
        if not self.waiting:
            self._written()

    def _append(self, row: dict[str, Any]) -> None:
        with self.path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")
            file.flush()
            os.fsync(file.fileno())


class Box:
    """What is asked, what waits, and what was asked about."""

    def __init__(self, service: Service, queue: Queue, *, column: str = "") -> None:
        self.service, self.queue, self.column = service, queue, column
        self.now: dict[str, Any] = {}
        self.said = ""
        self.doubted: Reading | None = None
        self.lock = threading.Lock()
        self.ended = threading.Event()
        self.woken = threading.Event()

    def take(self, line: str) -> None:
        """Take one line that was read."""
        match = NUMBER.search(line)
        if match is None:
            if line.strip():
                show(f"“{line.strip()}” is no number; it was not taken.")
            return
        with self.lock:
            if self.doubted is not None:
                self._settle(self.doubted, match[0])
            else:
                self._add(match[0])
        self.woken.set()

    def _settle(self, doubted: Reading, text: str) -> None:
        """Confirm what was asked about by the same number, or put another there."""
        if text == doubted.text:
            answer = replace(doubted, confirmed=True)
        else:
            answer = replace(doubted, reading_id=str(uuid.uuid4()), text=text)
        self.doubted = None
        rest = list(self.queue.waiting)[1:]
        self.queue.done()
        self.queue.waiting.clear()
        for one in [answer, *rest]:
            self.queue.add(one)

    def _add(self, text: str) -> None:
        column = self._column()
        if not column:
            show(f"“{text}” was not taken: nothing is asked that this box reads.")
            return
        self.queue.add(
            Reading(
                reading_id=str(uuid.uuid4()),
                sheet=self.now["sheet"],
                by=self.now["by"]["id"],
                column=column,
                text=text,
                taken_at=datetime.now(tz=UTC).isoformat(),
            )
        )

    def _column(self) -> str:
        """Give the next thing to read: what is asked, less what waits already."""
        sheet = self.now.get("sheet")
        if not sheet:
            return ""
        if self.column:
            return self.column
        waits = {one.column for one in self.queue.waiting if one.sheet == sheet}
        steps = [one["column"] for one in self.now["steps"]]
        return next((one for one in steps if one not in waits), "")

    def send(self) -> None:
        """Send what waits, in its order, and look at what is asked; until the end."""
        tries = 0
        while not (self.ended.is_set() and not self.queue.waiting):
            try:
                if self.queue.waiting and self.doubted is None:
                    self._send_one()
                else:
                    self._look()
                    self._pause(LOOK_EVERY_S)
                tries = 0
            except AwayError as away:
                show(f"Waiting ({len(self.queue.waiting)} kept): {away}")
                self._pause(AGAIN_AFTER_S[min(tries, len(AGAIN_AFTER_S) - 1)])
                tries += 1

    def _pause(self, seconds: float) -> None:
        self.woken.wait(seconds)
        self.woken.clear()

    def _send_one(self) -> None:
        reading = self.queue.waiting[0]
        try:
            answer = self.service.put(reading)
        except RefusedError as refused:
            self._refused(reading, refused)
            return
        with self.lock:
            self.queue.done()
        warning = answer.get("warning") or "kept"
        show(f"{reading.column}: {reading.text} — {warning}")
        if not self.queue.waiting:
            self._look()

    def _refused(self, reading: Reading, refused: RefusedError) -> None:
        if refused.code == "strange" and not self.ended.is_set():
            with self.lock:
                self.doubted = reading
            show(f"{refused} Send it again if it is right, or another number.")
            return
        with self.lock:
            self.queue.done()
        show(f"Not taken: {reading.column}, {reading.text}. {refused}")

    def _look(self) -> None:
        try:
            now = self.service.asked()
        except RefusedError as refused:
            raise AwayError(str(refused)) from refused
        with self.lock:
            self.now = now
            column = self._column()
        words = asked_words(now, column)
        if words != self.said:
            self.said = words
            show(words)


def asked_words(now: dict[str, Any], column: str) -> str:
    """Say what is asked, as a small display has room for it."""
    if not now["sheet"]:
        return f"{now['block']}: no car on the block."
    labels = {one["column"]: one for one in now["steps"]}
    if column:
        one = labels.get(column, {"label": column, "unit": ""})
        return f"{now['car']}: {one['label']} ({one['unit']})"
    following = now["next"]
    if following:
        return f"{now['car']}: {following['label']} — answer on the page."
    return f"{now['car']}: nothing more is asked."


def show(words: str) -> None:
    print(words, flush=True)


def opened(options: argparse.Namespace) -> IO[str]:
    """Open the serial line, set to its speed, or the standard input."""
    if not options.serial:
        return sys.stdin
    line = os.open(options.serial, os.O_RDONLY | os.O_NOCTTY)
    import termios  # noqa: PLC0415  there is none on Windows

    speed = getattr(termios, f"B{options.baud}")
    set_up = termios.tcgetattr(line)
    # 8 bits, no parity, one stop bit, lines as they come: what such gauges send.
    set_up[2] = termios.CS8 | termios.CREAD | termios.CLOCAL
    set_up[3] = termios.ICANON
    set_up[0] = termios.ICRNL
    set_up[4] = set_up[5] = speed
    termios.tcsetattr(line, termios.TCSANOW, set_up)
    return os.fdopen(line, encoding="ascii", errors="replace")


def arguments(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="caliper_box.py", description="Send what a caliper reads to the block."
    )
    parser.add_argument("address", help="of the club's service: http://10.0.0.5:8000")
    parser.add_argument("--token-file", type=Path, required=True)
    parser.add_argument("--serial", default="", help="a serial line: /dev/ttyUSB0")
    parser.add_argument("--baud", type=int, default=9600, choices=[4800, 9600, 19200])
    parser.add_argument(
        "--queue",
        type=Path,
        default=Path("caliper_box.queue"),
        help="where readings are kept that wait",
    )
    parser.add_argument(
        "--column", default="", help="read this alone, whatever is asked next"
    )
    return parser.parse_args(words)


def main(words: list[str] | None = None) -> int:
    options = arguments(words)
    token = options.token_file.read_text(encoding="utf-8").strip()
    service = Service(options.address, token)
    box = Box(service, Queue(options.queue), column=options.column)
    if box.queue.waiting:
        show(f"{len(box.queue.waiting)} readings wait from before.")
    sender = threading.Thread(target=box.send)
    sender.start()
    try:
        # What is asked is known before the first number is taken.
        while not box.now and sender.is_alive():
            time.sleep(0.05)
        for line in opened(options):
            box.take(line)
    except KeyboardInterrupt:
        show("Sending what waits; press again to leave it in the file.")
    box.ended.set()
    box.woken.set()
    with contextlib.suppress(KeyboardInterrupt):
        sender.join()
        return 0
    # What waits is in the file; the thread would keep trying.
    os._exit(0)


if __name__ == "__main__":
    sys.exit(main())
