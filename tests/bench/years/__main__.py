"""
Years of race nights beside the demo club: what each page costs with them.

    .venv/bin/python -m tests.bench.years --nights 30
    .venv/bin/python -m tests.bench.years --nights 1000 --keep FOLDER

Makes the demo club and one with so many nights before it (a thousand take some
twenty minutes), opens each page of both turn by turn, and prints medians and their
ratio.  ``--keep`` leaves both databases in a folder, and takes them from there the
next time.  On PostgreSQL with ``--postgresql``, on a throwaway server.
"""

import argparse
import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from deploy.throwaway_postgresql import bin_folder, throwaway_postgresql
from tests.bench.years.database import use_database

PASSWORD = "four quiet wheels turn"
TURNS = 7
#: Of so many nights every seal is walked: nine milliseconds for each.
NIGHTS_TO_WALK = 30


def main() -> None:
    said = arguments()
    if said.make is not None:
        make(said.database, said.make)
        return
    if said.serve:
        serve_club(said.database)
        return
    with places(said) as (demo, years):
        walk(demo, years, turns=said.turns, only=said.only)


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nights", type=int, default=30, metavar="N")
    parser.add_argument("--turns", type=int, default=TURNS, metavar="N")
    parser.add_argument("--keep", type=Path, metavar="FOLDER")
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--only", nargs="*", default=[], metavar="PAGE")
    parser.add_argument("--make", type=int, metavar="N", help=argparse.SUPPRESS)
    parser.add_argument("--serve", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--database", default="", help=argparse.SUPPRESS)
    return parser.parse_args()


@contextlib.contextmanager
def places(said: argparse.Namespace) -> Iterator[tuple[str, str]]:
    """Make both clubs; give where they are."""
    if said.postgresql:
        folder = bin_folder()
        assert folder is not None, "PostgreSQL is not installed here."
        with (
            throwaway_postgresql(folder) as demo,
            throwaway_postgresql(folder) as years,
        ):
            made(demo, 0)
            made(years, said.nights)
            yield demo, years
        return
    with contextlib.ExitStack() as stack:
        keep = said.keep or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        keep.mkdir(parents=True, exist_ok=True)
        both = [keep / f"{nights}.sqlite3" for nights in (0, said.nights)]
        for file, nights in zip(both, (0, said.nights), strict=True):
            if not file.exists():
                made(str(file), nights)
        yield str(both[0]), str(both[1])


def made(place: str, nights: int) -> None:
    begun = time.perf_counter()
    command = [sys.executable, "-m", __package__, f"--make={nights}"]
    subprocess.run([*command, f"--database={place}"], check=True)
    took = time.perf_counter() - begun
    size = f", {os.path.getsize(place) / 1e6:,.0f} MB" if os.path.exists(place) else ""
    print(f"{nights} nights made in {took / 60:.1f} min{size}", flush=True)


def make(place: str, nights: int) -> None:
    use_database(place)
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from deploy.demo.club import play_club  # noqa: PLC0415
    from inspection.actions.seal_checks import check_seals  # noqa: PLC0415
    from inspection.compute.night import Occasion  # noqa: PLC0415
    from tests.bench.years.club import play_years  # noqa: PLC0415
    from tests.bench.years.sizes import sizes_of  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    if nights:
        play_years(sizes_of(nights), now=timezone.now(), password=PASSWORD)
        if nights <= NIGHTS_TO_WALK:
            check = check_seals(Occasion.RESTORED, at=timezone.now())
            assert check.holds, check.differences
    else:
        play_club(now=timezone.now(), password=PASSWORD)


def serve_club(place: str) -> None:
    use_database(place)
    from tests.bench.years.pages import serve  # noqa: PLC0415

    serve()


class Server:
    """A process that opens the pages of one club when it is told to."""

    def __init__(self, place: str) -> None:
        command = [sys.executable, "-m", __package__, "--serve"]
        self.process = subprocess.Popen(
            [*command, f"--database={place}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.pages: list[str] = self._line()

    def visit(self, name: str) -> dict[str, Any]:
        assert self.process.stdin is not None
        self.process.stdin.write(f"{name}\n")
        self.process.stdin.flush()
        said: dict[str, Any] = self._line()
        return said

    def end(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait()

    def _line(self) -> Any:
        assert self.process.stdout is not None
        return json.loads(self.process.stdout.readline())


def walk(demo: str, years: str, *, turns: int, only: Sequence[str]) -> None:
    """Open every page of both clubs turn by turn, and print what they cost."""
    servers = Server(demo), Server(years)
    heads = ("page", "demo ms", "years ms", "ratio", "of cpu", "queries", "KB", "MiB")
    print(f"{heads[0]:22}" + "".join(f"{head:>12}" for head in heads[1:]))
    try:
        for name in servers[0].pages:
            if only and name not in only:
                continue
            rows: list[list[dict[str, Any]]] = [[], []]
            for turn in range(turns + 1):
                for place, server in enumerate(servers):
                    row = server.visit(name)
                    if turn or turns == 1:
                        rows[place].append(row)
                if rows[1] and rows[1][-1]["wall"] > 5.0:
                    break
            print(line_of(name, rows), flush=True)
    finally:
        for server in servers:
            server.end()


def line_of(name: str, rows: Sequence[Sequence[dict[str, Any]]]) -> str:
    wall = [statistics.median(one["wall"] for one in some) for some in rows]
    cpu = [statistics.median(one["processor"] for one in some) for some in rows]
    queries = "/".join(str(some[-1]["queries"]) for some in rows)
    size = "/".join(f"{some[-1]['bytes'] / 1e3:.0f}" for some in rows)
    peak = rows[1][-1]["peak_mib"]
    return (
        f"{name:22}{1e3 * wall[0]:12.1f}{1e3 * wall[1]:12.1f}"
        f"{wall[1] / wall[0]:12.2f}{cpu[1] / max(cpu[0], 1e-4):12.2f}"
        f"{queries:>12}{size:>12}{peak:12.0f}"
    )


if __name__ == "__main__":
    main()
