"""
The project's own Python environment, made and kept with the standard library alone.

``.venv`` is made once; a stamp inside it names the lock file it was filled from,
so that a second start costs one comparison.
"""

import hashlib
import importlib.util
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / ".venv"
PYTHON = FOLDER / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMPS = FOLDER / "filled-from"
RUN_LOCK = ROOT / "deploy" / "requirements.txt"
TEST_LOCK = ROOT / "deploy" / "requirements-test.txt"
LEAST_PYTHON = (3, 11)


class CannotPrepareError(Exception):
    """Raised with a sentence that tells the person what to do."""


def venv_package() -> str:
    """Return Debian's name for the part of this Python that it ships apart."""
    return f"python{sys.version_info.major}.{sys.version_info.minor}-venv"


def can_make_venv() -> bool:
    return importlib.util.find_spec("ensurepip") is not None


def prepare(*locks: Path) -> Path:
    """
    Make ``.venv`` hold what these locks name, if it does not yet.

    Returns the Python inside it.  An environment that works is added to and
    never made anew: what a developer put there besides stays.
    """
    if sys.version_info < LEAST_PYTHON:
        msg = "Feelerbook needs Python 3.11 or later; run this with a newer python."
        raise CannotPrepareError(msg)
    missing = [lock for lock in locks if not is_filled_from(lock)]
    if not missing:
        return PYTHON
    if not PYTHON.exists():
        make_venv()
    for lock in missing:
        install(lock)
    return PYTHON


def make_venv() -> None:
    if not can_make_venv():
        msg = (
            "This Python cannot make environments. On Debian and its kin install "
            f"the package {venv_package()} (apt-get install {venv_package()}), "
            "then run this again."
        )
        raise CannotPrepareError(msg)
    say(f"Making {FOLDER.name} …")
    # Without its Python, what is left in the folder is of no use to anybody.
    venv.EnvBuilder(with_pip=True, clear=True, symlinks=os.name != "nt").create(FOLDER)


def install(lock: Path) -> None:
    say(f"Installing what {lock.relative_to(ROOT)} names, each file by its hash …")
    command = [str(PYTHON), "-m", "pip", "install", "--quiet", "--require-hashes"]
    command += ["--disable-pip-version-check", "--no-input", "-r", str(lock)]
    if subprocess.run(command, check=False).returncode:
        msg = "The installation failed; the lines above say why. Run this again."
        raise CannotPrepareError(msg)
    STAMPS.mkdir(exist_ok=True)
    stamp(lock).write_text(fingerprint(lock), encoding="ascii")


def is_filled_from(lock: Path) -> bool:
    try:
        return stamp(lock).read_text(encoding="ascii") == fingerprint(lock)
    except FileNotFoundError:
        return False


def fingerprint(lock: Path) -> str:
    """Return what changes with the lock file or with the Python of ``.venv``."""
    made_by = (FOLDER / "pyvenv.cfg").read_bytes()
    return hashlib.sha256(made_by + lock.read_bytes()).hexdigest()


def stamp(lock: Path) -> Path:
    return STAMPS / f"{lock.stem}.stamp"


def say(line: str) -> None:
    print(line, flush=True)
