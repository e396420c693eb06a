"""
A package index of empty packages, and a lock file for it.

Every package that a lock names is there at the version locked and at two newer ones:
the next, which most ranges admit, and one far beyond.  What each asks for is what the
package of that name asks for that is installed here, extras and all.
"""

import base64
import hashlib
import zipfile
from collections.abc import Iterable
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.version import Version

from tests.deploy.locks.lock_files import Pin

FAR_BEYOND = "9999"
HEADERS = ("Provides-Extra", "Requires-Dist")


def fill_index(folder: Path, pins: Iterable[Pin]) -> None:
    """Write a wheel for each pin, and two that are newer."""
    folder.mkdir(exist_ok=True)
    for pin in pins:
        for version in (pin.version, next_version(pin.version), FAR_BEYOND):
            write_wheel(folder, pin.name, version)


def next_version(version: str) -> str:
    release = list(Version(version).release)
    release[-1] += 1
    return ".".join(map(str, release))


def wheel_of(folder: Path, name: str, version: str) -> Path:
    return folder / f"{name.replace('-', '_')}-{version}-py3-none-any.whl"


def write_wheel(folder: Path, name: str, version: str) -> None:
    """Write a wheel that holds nothing but what it says of itself."""
    path = wheel_of(folder, name, version)
    info = f"{name.replace('-', '_')}-{version}.dist-info"
    files = {
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\n"
        f"Version: {version}\n{headers_of(name)}",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: tests\n"
        "Root-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = [f"{file},{digest(text)},{len(text)}" for file, text in files.items()]
    files[f"{info}/RECORD"] = "\n".join([*record, f"{info}/RECORD,,", ""])
    with zipfile.ZipFile(path, "w") as archive:
        for file, text in files.items():
            archive.writestr(zipfile.ZipInfo(file), text)


def digest(text: str) -> str:
    raw = hashlib.sha256(text.encode()).digest()
    return "sha256=" + base64.urlsafe_b64encode(raw).decode().rstrip("=")


def headers_of(name: str) -> str:
    """Return the headers of the package of this name that is installed here."""
    try:
        found = metadata(name)
    except PackageNotFoundError:  # one of another system
        return ""
    said = ((key, value) for key in HEADERS for value in found.get_all(key) or ())
    return "".join(f"{key}: {value}\n" for key, value in said)


def write_lock(path: Path, pins: Iterable[Pin], folder: Path) -> None:
    """Write a lock file whose hashes are those that its versions have here."""
    lines = []
    for pin in pins:
        wheel = wheel_of(folder, pin.name, pin.version)
        hashed = hashlib.sha256(wheel.read_bytes()).hexdigest()
        lines.append(f"{pin.line} \\\n    --hash=sha256:{hashed}\n")
    path.write_text("".join(lines), encoding="ascii")


def without_extras(pin: Pin) -> Pin:
    requirement = Requirement(pin.line)
    requirement.extras = set()
    return Pin(str(requirement), pin.hashes)
