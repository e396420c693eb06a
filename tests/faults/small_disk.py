"""A disk of a few megabytes, in memory, that a test can fill and make room on."""

import contextlib
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

NO_LEAVE = "this machine gives no leave to mount a small disk"


@contextlib.contextmanager
def small_disk(at: Path, *, megabytes: int) -> Iterator[Path]:
    """Mount one; where that is not allowed the test is left out, by its name."""
    at.mkdir(parents=True)
    mount = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(at)]
    if os.name == "nt" or subprocess.run(mount, check=False).returncode:
        pytest.skip(NO_LEAVE)
    try:
        yield at
    finally:
        subprocess.run(["umount", "--lazy", str(at)], check=True)


def fill(disk: Path) -> Path:
    """Fill what is left with one file, to the last byte; return the file."""
    ballast = disk / "lost+found"  # the one name that a disk brings itself
    with ballast.open("ab", buffering=0) as file:
        for size in (65536, 4096, 512, 1):
            with contextlib.suppress(OSError):
                while file.write(b"x" * size):
                    pass
    return ballast
