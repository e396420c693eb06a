"""
An empty environment is filled from the locks, whatever has come out since.

The locks are installed from an index in which every package has newer versions than
the locked ones, by the newest pip in each run and by the oldest in a long one.
"""

import os
import shutil
import subprocess
import sys
import venv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from packaging.utils import canonicalize_name
from virtualenv.seed.wheels.embed import get_embed_wheel

from deploy import environment
from deploy.environment import RUN_LOCK, TEST_LOCK
from tests.deploy.locks.lock_files import Pin, environment_of, read_lock
from tests.deploy.locks.tiny_index import (
    fill_index,
    next_version,
    wheel_of,
    without_extras,
    write_lock,
)

HERE = ".".join(map(str, sys.version_info[:2]))
# What ensurepip puts into an environment in the first release of each Python: the
# lists of its bundled wheels (Lib/ensurepip/__init__.py, tags v3.11.0 to v3.14.0).
# With the hashes of the files that the registry has.
OLDEST_PIP = {
    "3.11": "pip==22.3 --hash=sha256:"
    "1daab4b8d3b97d1d763caeb01a4640a2250a0ea899e257b1e44b9eded91e15ab",
    "3.12": "pip==23.2.1 --hash=sha256:"
    "7ccf472345f20d35bdc9d1841ff5f313260c2c33fe417f48c30ac46cccabf5be",
    "3.13": "pip==24.2 --hash=sha256:"
    "2cd581cf58ab7fcfca4ce8efa6dcacd0de5bf8d0a3eb9ec927e07405f4d9e2a2",
    "3.14": "pip==25.2 --hash=sha256:"
    "6d67a2b4e7f14d8b31b8b52648866fa717f45a1eb70e83002f4331d07e953717",
}
OLDEST = pytest.param("oldest", marks=pytest.mark.long)
IN_VENV = "Scripts/python.exe" if os.name == "nt" else "bin/python"


def newest_pip(folder: Path) -> Path:
    """Return the pip that virtualenv carries; the lock says which virtualenv."""
    found = get_embed_wheel("pip", HERE)
    assert found is not None
    return Path(found.path)


def oldest_pip(folder: Path) -> Path:
    """Fetch the pip that the first release of this Python came with."""
    wanted = folder / "oldest-pip.txt"
    wanted.write_text(OLDEST_PIP[HERE], encoding="ascii")
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--require-hashes"]
    command += ["--no-deps", "--disable-pip-version-check", "--no-input"]
    subprocess.run([*command, f"--dest={folder}", "-r", str(wanted)], check=True)
    (wheel,) = folder.glob("pip-*.whl")
    return wheel


@dataclass(frozen=True)
class Machine:
    """A project folder with an environment that holds pip alone, and an index."""

    folder: Path
    index: Path

    @property
    def python(self) -> Path:
        return environment.PYTHON

    def lock(self, name: str, pins: list[Pin]) -> Path:
        path = self.folder / name
        write_lock(path, pins, self.index)
        return path

    def resolved(self, lock: Path) -> "subprocess.CompletedProcess[str]":
        """Have pip work out by itself what a lock needs, and install nothing."""
        command = [str(self.python), "-m", "pip", "install", "--dry-run"]
        command += ["--require-hashes", "--disable-pip-version-check", "--no-input"]
        return subprocess.run(
            [*command, "-r", str(lock)], capture_output=True, text=True, check=False
        )

    def installed(self) -> set[str]:
        command = [str(self.python), "-m", "pip", "list", "--format=freeze"]
        command += ["--disable-pip-version-check", "--exclude=pip"]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        return {normal(line) for line in done.stdout.split()}


def normal(line: str) -> str:
    name, _, version = line.partition("==")
    return f"{canonicalize_name(name)}=={version}"


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("index")
    fill_index(folder, [*read_lock(RUN_LOCK), *read_lock(TEST_LOCK)])
    return folder


@pytest.fixture(scope="module", params=["newest", OLDEST])
def empty(request: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make an environment in which there is a pip, and nothing else."""
    folder = tmp_path_factory.mktemp(request.param)
    wheel = {"newest": newest_pip, "oldest": oldest_pip}[request.param](folder)
    made = folder / ".venv"
    venv.EnvBuilder(with_pip=False, symlinks=os.name != "nt").create(made)
    # A wheel of pip runs as it lies there, and installs itself.
    command = [str(made / IN_VENV), f"{wheel}/pip", "install", "--quiet", "--no-index"]
    command += ["--disable-pip-version-check", str(wheel)]
    subprocess.run(command, check=True)
    return made


@pytest.fixture
def machine(
    empty: Path, index: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Machine:
    """Return a machine of its own, on which pip sees the tiny index and no other."""
    folder = tmp_path / ".venv"
    shutil.copytree(empty, folder, symlinks=True)
    for name in [name for name in os.environ if name.startswith("PIP_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", index.as_uri())
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "FOLDER", folder)
    monkeypatch.setattr(environment, "PYTHON", folder / IN_VENV)
    monkeypatch.setattr(environment, "STAMPS", folder / "filled-from")
    return Machine(tmp_path, index)


def test_every_package_of_the_index_has_newer_versions(index: Path) -> None:
    for pin in read_lock(TEST_LOCK):
        for version in (pin.version, next_version(pin.version), "9999"):
            assert wheel_of(index, pin.name, version).exists()


def test_an_empty_environment_is_filled_with_what_is_locked(machine: Machine) -> None:
    run, test = read_lock(RUN_LOCK), read_lock(TEST_LOCK)
    here = environment_of(HERE)
    assert machine.installed() == set()
    environment.prepare(machine.lock("run.txt", run))
    expected = {f"{pin.name}=={pin.version}" for pin in run if pin.applies(here)}
    assert machine.installed() == expected
    environment.prepare(machine.lock("test.txt", test))
    expected |= {f"{pin.name}=={pin.version}" for pin in test if pin.applies(here)}
    assert machine.installed() == expected


@pytest.mark.parametrize("lock", [RUN_LOCK, TEST_LOCK], ids=["run", "test"])
def test_lock_leaves_pip_nothing_to_look_for(machine: Machine, lock: Path) -> None:
    done = machine.resolved(machine.lock("lock.txt", read_lock(lock)))
    assert done.returncode == 0, done.stderr


def test_lock_that_lacks_a_package_is_refused(machine: Machine) -> None:
    pins = [pin for pin in read_lock(RUN_LOCK) if pin.name != "sqlparse"]
    done = machine.resolved(machine.lock("lock.txt", pins))
    assert done.returncode == 1
    assert "sqlparse" in done.stderr


# Today's pip takes the pin for what has the extra as well.
@pytest.mark.parametrize("empty", [OLDEST], indirect=True)
@pytest.mark.parametrize("name", ["coverage", "optype"])
def test_lock_that_lacks_an_extra_is_refused_by_an_old_pip(
    machine: Machine, name: str
) -> None:
    pins = [
        without_extras(pin) if pin.name == name else pin for pin in read_lock(TEST_LOCK)
    ]
    done = machine.resolved(machine.lock("lock.txt", pins))
    assert done.returncode == 1
    assert f"{name}[" in done.stderr
