"""
The project's own Python environment, made and kept with the standard library alone.

``.venv`` is made once; a stamp inside it names the lock file it was filled from,
so that a second start costs one comparison.  The project's own files are compiled when
they changed, as pip does with what it installs: Python does it at their first import,
but not where it may not write or is told not to, and is twice as long in starting then.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
import venv
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from deploy.starting.refusals import NoTurnError
from deploy.starting.turns import one_at_a_time

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / ".venv"
PYTHON = FOLDER / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMPS = FOLDER / "filled-from"
RUN_LOCK = ROOT / "deploy" / "requirements.txt"
TEST_LOCK = ROOT / "deploy" / "requirements-test.txt"
LEAST_PYTHON = (3, 11)
TURN = ".venv-lock"
PACKAGES = ("deploy", "inspection", "inventory")
MEMORY_DISK = Path("/dev/shm")  # noqa: S108  a disk in memory, not a file's name
MEMORY_DISK_GIB = 8


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
    if not all(is_filled_from(lock) for lock in locks):
        fill_in_turn(*locks)
    compile_own()
    return PYTHON


def fill_in_turn(*locks: Path) -> None:
    try:
        # Two first starts at once would each clear away what the other has made.
        with one_at_a_time(FOLDER.with_name(TURN), say=say):
            fill(*locks)
    except NoTurnError as error:
        raise CannotPrepareError(str(error)) from error
    except (OSError, subprocess.CalledProcessError) as error:
        msg = f"{FOLDER} cannot be made: {error}. Is the disk full? Run this again."
        raise CannotPrepareError(msg) from error


def compile_own() -> None:
    """Compile the project's own files, if any changed and here it may be written."""
    folders = [ROOT / name for name in PACKAGES]
    if not all(os.access(folder, os.W_OK) for folder in (STAMPS, *folders)):
        return
    state = state_of(str(file) for one in folders for file in one.rglob("*.py"))
    mark = STAMPS / "compiled.stamp"
    if mark.exists() and mark.read_text(encoding="ascii") == state:
        return
    command = [str(PYTHON), "-m", "compileall", "-qq", *map(str, folders)]
    done = subprocess.run(command, check=False)
    if done.returncode == 0:
        mark.write_text(state, encoding="ascii")


def state_of(paths: Iterable[str]) -> str:
    """Return a word that changes with any of these files."""
    seen = [(path, os.stat(path).st_mtime_ns) for path in sorted(paths)]
    return hashlib.sha256(repr(seen).encode()).hexdigest()


def fill(*locks: Path) -> None:
    missing = [lock for lock in locks if not is_filled_from(lock)]
    if missing and not PYTHON.exists():
        make_venv()
    for lock in missing:
        install(lock)
        STAMPS.mkdir(exist_ok=True)
        stamp(lock).write_text(fingerprint(lock), encoding="ascii")


def other_python(version: str) -> str | None:
    """Return a Python of this version, such as ``3.13``, if the machine has one."""
    if path := shutil.which(f"python{version}"):
        return path
    root = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv")
    kept = sorted(root.glob(f"versions/{version}.*/bin/python"))
    return str(kept[-1]) if kept else None


def prepare_other(version: str, python: str, lock: Path) -> Path:
    """Make an environment beside ``.venv`` for another Python, and fill it once."""
    folder = FOLDER.with_name(f".venv-{version}")
    inside, mark = folder / "bin" / "python", folder / "filled-from"
    print_of_lock = hashlib.sha256(lock.read_bytes()).hexdigest()
    if mark.exists() and mark.read_text(encoding="ascii") == print_of_lock:
        return inside
    subprocess.run([python, "-m", "venv", "--clear", str(folder)], check=True)
    install(lock, python=inside)
    mark.write_text(print_of_lock, encoding="ascii")
    return inside


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


def install(lock: Path, *, python: Path | None = None) -> None:
    say(f"Installing what {lock.relative_to(ROOT)} names, each file by its hash …")
    command = [
        str(python or PYTHON),
        "-m",
        "pip",
        "install",
        "--quiet",
        "--require-hashes",
    ]
    # The lock is the whole truth: pip adds nothing to it and asks for nothing newer.
    command += ["--no-deps", "--disable-pip-version-check", "--no-input"]
    command += ["-r", str(lock)]
    if subprocess.run(command, check=False).returncode:
        msg = "The installation failed; the lines above say why. Run this again."
        raise CannotPrepareError(msg)


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


@contextmanager
def quick_folder() -> Iterator[None]:
    """
    Keep what the tests write, and throw away, in memory where there is room.

    Every acknowledged write waits for its disk, as it must: ten milliseconds and
    more on a real one, under half of one here, and a run makes many thousands.
    """
    if not has_room(MEMORY_DISK):
        yield
        return
    with tempfile.TemporaryDirectory(prefix="fb-", dir=MEMORY_DISK) as folder:
        # PostgreSQL, which is somebody else, finds its own folder through it.
        Path(folder).chmod(0o711)
        before = os.environ.get("TMPDIR", "")
        os.environ["TMPDIR"] = folder
        try:
            yield
        finally:
            os.environ["TMPDIR"] = before


def has_room(disk: Path) -> bool:
    memory = Path("/proc/meminfo")
    if not (memory.exists() and disk.is_dir() and os.access(disk, os.W_OK)):
        return False
    sizes = dict(line.split(":") for line in memory.read_text("utf-8").splitlines())
    free = int(sizes["MemAvailable"].split()[0]) * 1024
    return min(free, shutil.disk_usage(disk).free) > MEMORY_DISK_GIB * 2**30
