"""One start at a time: the others wait for their turn, and a killed one gives it up."""

import contextlib
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from deploy.starting.refusals import NoTurnError

LONGEST_S = 600.0  # a first start with the demo takes a minute on a small machine
TRIED_EVERY_S = 0.2


@contextlib.contextmanager
def one_at_a_time(
    path: Path, *, say: Callable[[str], object], longest_s: float = LONGEST_S
) -> Iterator[None]:
    """
    Hold the lock of this file while the block runs.

    An empty database of SQLite is a lock that every system has and that ends with
    the process that holds it.
    """
    lock = sqlite3.connect(path, timeout=0, isolation_level=None)
    try:
        wait_for(lock, path, say=say, longest_s=longest_s)
        yield
    finally:
        lock.close()


def wait_for(
    lock: sqlite3.Connection,
    path: Path,
    *,
    say: Callable[[str], object],
    longest_s: float,
) -> None:
    deadline, is_said = time.monotonic() + longest_s, False
    while True:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                raise
        else:
            return
        if time.monotonic() > deadline:
            msg = (
                f"Another start has held {path} for {longest_s:.0f} s and does not "
                "come to an end; end it, then start again."
            )
            raise NoTurnError(msg)
        if not is_said:
            say("Another start prepares the same folder; waiting for it …")
            is_said = True
        time.sleep(TRIED_EVERY_S)
