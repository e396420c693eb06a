"""Lock files as data: what each line pins, and which requirements they leave open."""

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from deploy.environment import ROOT, RUN_LOCK, TEST_LOCK

PYTHONS = ("3.11", "3.12", "3.13", "3.14")
HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")

#: What a package of this name and version asks for; None: nobody can tell.
Asked = Callable[[str, str], Iterable[str] | None]


@dataclass(frozen=True)
class Pin:
    """One requirement of a lock file, with the hashes of the files it admits."""

    line: str
    hashes: frozenset[str]

    @cached_property
    def requirement(self) -> Requirement:
        return Requirement(self.line)

    @property
    def name(self) -> str:
        return canonicalize_name(self.requirement.name)

    @property
    def version(self) -> str:
        (only,) = self.requirement.specifier
        return only.version

    def applies(self, environment: dict[str, str]) -> bool:
        return applies(self.requirement, environment)

    def meets(self, asked: Requirement) -> bool:
        is_admitted = asked.specifier.contains(self.version, prereleases=True)
        return is_admitted and asked.extras <= self.requirement.extras


def read_lock(path: Path) -> list[Pin]:
    joined = path.read_text(encoding="ascii").replace("\\\n", " ")
    lines = [line for line in joined.splitlines() if not line.startswith("#")]
    return [
        Pin(HASH.sub("", line).strip(), frozenset(HASH.findall(line)))
        for line in lines
        if line.strip()
    ]


def wanted_by(lock: Path) -> list[str]:
    """Return what the project itself asks of a lock file."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    run: list[str] = project["project"]["dependencies"]
    test: list[str] = project["dependency-groups"]["test"]
    return {RUN_LOCK: run, TEST_LOCK: [*run, *test]}[lock]


def environment_of(python: str, system: str = "") -> dict[str, str]:
    """Return the marker values (PEP 508) of a Python, on this system or another."""
    values = {str(name): str(value) for name, value in default_environment().items()}
    values |= {"python_version": python, "python_full_version": f"{python}.9"}
    if system:
        platform = {"Linux": "linux", "Darwin": "darwin", "Windows": "win32"}[system]
        values |= {"platform_system": system, "sys_platform": platform}
        values["os_name"] = "nt" if system == "Windows" else "posix"
    return values


def applies(
    requirement: Requirement, environment: dict[str, str], extras: Iterable[str] = ()
) -> bool:
    marker = requirement.marker
    return marker is None or any(
        marker.evaluate(environment | {"extra": extra}) for extra in ["", *extras]
    )


def unmet(
    pins: Iterable[Pin],
    wanted: Iterable[str],
    environment: dict[str, str],
    asked_by: Asked,
) -> tuple[list[str], int]:
    """
    Return what is asked for and not pinned, and how many requirements were looked at.

    Followed are the project's own wishes and, extra by extra, those of each package
    that is pinned in this environment.
    """
    pinned: dict[str, Pin] = {}
    faults: list[str] = []
    for pin in pins:
        if pin.applies(environment):
            if pin.name in pinned:
                faults.append(f"{pin.name} is pinned twice")
            pinned[pin.name] = pin
    looked_at = 0
    for asker, requirement in _asked(wanted, pinned, environment, asked_by):
        looked_at += 1
        found = pinned.get(canonicalize_name(requirement.name))
        if found is None:
            faults.append(f"{asker} asks for {requirement}, which is not pinned")
        elif not found.meets(requirement):
            faults.append(f"{asker} asks for {requirement}, pinned is {found.line}")
    return faults, looked_at


def _asked(
    wanted: Iterable[str],
    pinned: dict[str, Pin],
    environment: dict[str, str],
    asked_by: Asked,
) -> Iterator[tuple[str, Requirement]]:
    for line in wanted:
        if applies(Requirement(line), environment):
            yield "pyproject.toml", Requirement(line)
    for pin in pinned.values():
        for line in asked_by(pin.name, pin.version) or ():
            requirement = Requirement(line)
            if applies(requirement, environment, pin.requirement.extras):
                yield f"{pin.name} {pin.version}", requirement
