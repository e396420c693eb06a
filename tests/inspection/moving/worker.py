"""
One command on a database of its own, in a process of its own.

``python -m tests.inspection.moving.worker DATABASE make NIGHTS`` makes a club of so
many nights, the demo club of none; any other word is a command of ``manage.py``.
"""

import contextlib
import re
import resource
import sys
import time
from pathlib import Path

from deploy.throwaway_postgresql import START_WITHIN_S
from tests.bench.years.database import use_database

PASSWORD = "four quiet wheels turn"


def peak_kib() -> int:
    """
    Say how much this program held at most.

    By Linux's own count, which begins anew with the program: the one of getrusage
    goes on from what started it.
    """
    status = Path("/proc/self/status")
    if status.exists():
        said = re.search(r"VmHWM:\s*(\d+) kB", status.read_text(encoding="ascii"))
        if said is not None:
            return int(said[1])
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def make(nights: int, cars: int, parts: int) -> None:
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from deploy.demo.club import play_club  # noqa: PLC0415
    from tests.bench.years.club import play_years  # noqa: PLC0415
    from tests.bench.years.sizes import Sizes  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    if not nights:
        play_club(now=timezone.now(), password=PASSWORD)
        return
    sizes = Sizes(nights=nights, entries_a_night=40, cars=cars, parts=parts, people=400)
    play_years(sizes, now=timezone.now(), password=PASSWORD)


def wait_for_database() -> None:
    """Let a server that has only just started come up."""
    from django.db import OperationalError, connection  # noqa: PLC0415

    deadline = time.monotonic() + START_WITHIN_S
    while time.monotonic() < deadline:
        with contextlib.suppress(OperationalError):
            connection.ensure_connection()
            return


def main(place: str, command: str, *words: str) -> None:
    use_database(place)
    from django.core.management import CommandError, call_command  # noqa: PLC0415

    wait_for_database()
    if command == "make":
        make(*map(int, words))
    else:
        # What a check finds, or a moved club's seals, is printed and no failure here.
        with contextlib.suppress(CommandError):
            call_command(command, *words)
    print(f"peak {peak_kib() // 1024} MiB")  # noqa: T201  read by the test


if __name__ == "__main__":
    main(*sys.argv[1:])
