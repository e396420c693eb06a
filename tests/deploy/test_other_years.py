"""
The parts that know dates, run on a machine whose clock stands in another year.

2028 has a 29th of February; 2040 lies beyond 19 January 2038, where a count of seconds
in 32 bits ends.  `faketime` (Debian's package) gives the clock.
"""

import os
import shutil
import subprocess
import sys

import pytest

from tests.deploy.servers import ROOT, clean_environment

DATED = (
    "tests/deploy/test_sessions.py",
    "tests/deploy/test_throttle.py",
    "tests/deploy/keeping/test_backups.py",
    "tests/inspection/block/test_reading_times.py",
    "tests/inspection/history/test_loaders_season.py",
    "tests/inspection/night",
    "tests/inventory/gauges",
    "tests/inventory/people/test_links.py",
)


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="faketime has no Windows")
@pytest.mark.parametrize("clock", ["2028-02-29 23:58:00", "2040-11-03 12:00:00"])
def test_what_knows_dates_holds_in_another_year(clock: str) -> None:
    faketime = shutil.which("faketime")
    assert faketime, "The tests of another year need the package faketime."
    done = subprocess.run(
        [faketime, clock, sys.executable, "-m", "pytest", "-q", "-x", *DATED],
        cwd=ROOT,
        env=clean_environment()
        | {"FAKETIME_DONT_FAKE_MONOTONIC": "1", "FEELERBOOK_HYPOTHESIS": "ci"},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-1000:]
