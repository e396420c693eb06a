"""
How long the command line takes to begin, by the processor's time.

Run as ``python -m tests.bench.bench_start``.  Prints figures, asserts nothing.
"""

import os
import resource
import subprocess
import sys
from pathlib import Path

from tests.bench.figures import Figure

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


def main() -> None:
    command, plain = seconds(HELP), seconds(["-c", "import django, numpy"])
    print(f"pair_tyres --help {command:.2f} s, Django and NumPy alone {plain:.2f} s")
    Figure(
        what="`pair_tyres --help`",
        promised="≤ 1 s",
        measured=f"{command:.2f} s",
        beside=f"{plain:.2f} s for importing Django and NumPy alone",
    ).say()


if __name__ == "__main__":
    main()
