"""A lock is complete: for each Python, everything that anybody asks for is pinned."""

import json
import re
import subprocess
import sys
from collections.abc import Iterable
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import pytest
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

from deploy.environment import RUN_LOCK, TEST_LOCK
from tests.deploy.locks.lock_files import (
    PYTHONS,
    Pin,
    environment_of,
    read_lock,
    unmet,
    wanted_by,
)

LOCKS = pytest.mark.parametrize("lock", [RUN_LOCK, TEST_LOCK], ids=["run", "test"])
EACH_PYTHON = pytest.mark.parametrize("python", PYTHONS)
HERE = ".".join(map(str, sys.version_info[:2]))


@cache
def installed(name: str, version: str) -> Iterable[str] | None:
    """Return what a package asks for, where this very version is installed."""
    try:
        found = distribution(name)
    except PackageNotFoundError:
        return None
    return found.requires or [] if found.version == version else None


@LOCKS
@EACH_PYTHON
@pytest.mark.parametrize("system", ["Linux", "Darwin", "Windows"])
def test_whatever_is_asked_for_is_pinned(lock: Path, python: str, system: str) -> None:
    pins, there = read_lock(lock), environment_of(python, system)
    faults, looked_at = unmet(pins, wanted_by(lock), there, installed)
    assert not faults
    assert looked_at > len(pins) / 2


@LOCKS
def test_what_is_installed_here_is_what_is_pinned(lock: Path) -> None:
    here = environment_of(HERE)
    pins = [pin for pin in read_lock(lock) if pin.applies(here)]
    assert pins
    assert not [pin.line for pin in pins if installed(pin.name, pin.version) is None]


@pytest.mark.parametrize(
    ("name", "line", "fault"),
    [
        ("asgiref", "asgiref==1.0", "asks for asgiref.*pinned is asgiref==1.0"),
        ("sqlparse", "", "django .* asks for sqlparse.*not pinned"),
        ("scipy", "", "pyproject.toml asks for scipy.*not pinned"),
        ("coverage", "coverage==7.99", "pytest-cov .* asks for coverage\\[toml\\]"),
        ("optype", "optype==0.17.1", "scipy-stubs .* asks for optype\\[numpy\\]"),
    ],
)
def test_pin_that_is_absent_or_too_old_or_lacks_its_extra_shows(
    name: str, line: str, fault: str
) -> None:
    pins = [pin for pin in read_lock(TEST_LOCK) if pin.name != name]
    pins += [Pin(line, frozenset())] if line else []
    here = environment_of(HERE)
    faults, _ = unmet(pins, wanted_by(TEST_LOCK), here, installed)
    assert any(re.search(fault, one) for one in faults), faults


@pytest.mark.long
@EACH_PYTHON
def test_the_registrys_own_files_satisfy_the_lock(python: str, tmp_path: Path) -> None:
    """
    Ask the registry for what a Python would get: files, hashes and requirements.

    Nothing is installed, and of most files only what they say of themselves is read.
    """
    here = environment_of(python)
    pins = [pin for pin in read_lock(TEST_LOCK) if pin.applies(here)]
    wanted, report = tmp_path / "wanted.txt", tmp_path / "report.json"
    # pip reads markers as of the Python it runs on, and whole files for hashes.
    names = [str(pin.requirement).partition(";")[0] for pin in pins]
    wanted.write_text("\n".join(names), encoding="ascii")
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--dry-run"]
    command += ["--no-deps", "--disable-pip-version-check", "--no-input"]
    # Which Python a file needs pip holds against its own; it is looked at below.
    command += ["--ignore-requires-python"]
    command += [f"--python-version={python}", "--only-binary=:all:"]
    command += [f"--target={tmp_path / 'nowhere'}", f"--report={report}"]
    subprocess.run([*command, "-r", str(wanted)], check=True)

    found: dict[str, Any] = {
        canonicalize_name(one["metadata"]["name"]): one
        for one in json.loads(report.read_text(encoding="utf-8"))["install"]
    }
    assert found.keys() == {pin.name for pin in pins}
    for pin in pins:
        said = found[pin.name]["download_info"]["archive_info"]["hashes"]
        assert said["sha256"] in pin.hashes, pin.line
        needed = found[pin.name]["metadata"].get("requires_python", "")
        assert SpecifierSet(needed).contains(here["python_full_version"]), pin.line

    def asked_by(name: str, version: str) -> Iterable[str]:
        assert found[name]["metadata"]["version"] == version
        requires: list[str] = found[name]["metadata"].get("requires_dist", [])
        return requires

    for lock in (RUN_LOCK, TEST_LOCK):
        faults, _ = unmet(read_lock(lock), wanted_by(lock), here, asked_by)
        assert not faults
