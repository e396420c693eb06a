"""
How long the command line takes to begin, and a server that was there before.

The command by the processor's time, the server by the clock, until a page is answered.
Run as ``python -m tests.bench.bench_start``.  Prints figures, asserts nothing.
Python keeps what it compiled, as in anybody's shell.
"""

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.figures import Figure
from tests.deploy.servers import SERVE, fetch, running

ROOT = Path(__file__).parents[2]
ROUNDS = 3
HELP = ["manage.py", "pair_tyres", "--help"]


def seconds(words: list[str]) -> float:
    """Least time of a few starts, of this and what it starts."""
    times = []
    for _ in range(ROUNDS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, *words],
            cwd=ROOT,
            env={**os.environ, "DJANGO_SETTINGS_MODULE": "deploy.settings.test"},
            stdout=subprocess.DEVNULL,
            check=True,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(
            after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
        )
    return min(times)


def seconds_to_answer(folder: Path) -> float:
    """Time from starting the local server on a folder to its first answer."""
    begun = time.perf_counter()
    words = [*SERVE, "--port=0", f"--data={folder}", "--no-demo"]
    with running(*words) as (_, address, _):
        fetch(f"{address}live")
        return time.perf_counter() - begun


def second_starts() -> tuple[float, float]:
    """Least time of a few starts on a folder that holds a club, and of the first."""
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept) / "club"
        first = seconds_to_answer(folder)
        return min(seconds_to_answer(folder) for _ in range(ROUNDS)), first


def main() -> None:
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    command, plain = seconds(HELP), seconds(["-c", "import django, numpy"])
    print(f"pair_tyres --help {command:.2f} s, Django and NumPy alone {plain:.2f} s")
    Figure(
        what="`pair_tyres --help`",
        promised="≤ 1 s",
        measured=f"{command:.2f} s",
        beside=f"{plain:.2f} s for importing Django and NumPy alone",
    ).say()
    again, first = second_starts()
    print(f"local server to its first answer: again {again:.2f} s, first {first:.2f} s")
    Figure(
        what="the local server started again, to its first answer",
        promised="≤ 1.5 s",
        measured=f"{again:.2f} s",
        beside=f"{first:.2f} s for its first start, by the clock",
    ).say()


if __name__ == "__main__":
    main()
