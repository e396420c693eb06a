"""
Run the benches one after another, and write what came out into ``DEVELOPERS.md``.

    .venv/bin/python -m tests.bench [--long]

Some three minutes of a processor; ``--long`` judges a million cars, and loads a race
night on either server, too.  Each runs in a process of its own.  Figures are ratios of
one run, or of the processor's time, since other people may be on the machine.
"""

import datetime as dt
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from tests.bench.figures import Figure, figures_in, table_of

BENCHES: Final = ("bench_block", "bench_rules", "bench_pairing", "bench_start")
#: Of a long run alone: what it is given instead of the length.
LONG_BENCHES: Final[Mapping[str, list[list[str]]]] = {
    "bench_load": [[], ["--postgresql"]]
}
#: A bench that hangs ends, and the others go on.
LONGEST: Final = 900
DOCUMENT: Final = Path(__file__).parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- figures: python -m tests.bench -->\n", "<!-- end of figures -->\n"


def run(name: str, words: list[str]) -> list[Figure]:
    """Run one bench, show what it says, and give its figures."""
    print(f"{name}", flush=True)
    try:
        done = subprocess.run(
            [sys.executable, "-m", f"tests.bench.{name}", *words],
            stdout=subprocess.PIPE,
            text=True,
            timeout=LONGEST,
            check=True,
        )
    except (subprocess.SubprocessError, OSError) as trouble:
        print(f"  {trouble}")
        return [Figure(what=name, promised="", measured="did not end", beside="")]
    print(done.stdout, flush=True)
    return figures_in(done.stdout)


def write(figures: list[Figure]) -> None:
    """Put the table in the place of the one before."""
    before, _, rest = DOCUMENT.read_text("utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    today = dt.datetime.now(tz=dt.UTC).date().isoformat()
    head = (
        f"{today}, {os.cpu_count()} cores, other people on the machine: ratios of one "
        "run, or the processor's time.\n\n"
    )
    said = f"{before}{BEGIN}{head}{table_of(figures)}\n{END}{after}"
    DOCUMENT.write_text(said, encoding="utf-8")


def main(words: list[str]) -> None:
    runs = [(name, words) for name in BENCHES]
    if "--long" in words:
        runs += [(name, some) for name, each in LONG_BENCHES.items() for some in each]
    figures = [one for name, some in runs for one in run(name, some)]
    print(table_of(figures))
    write(figures)


if __name__ == "__main__":
    main([word for word in sys.argv[1:] if word == "--long"] or ["--short"])
