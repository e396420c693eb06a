"""
What the service is made of, as CycloneDX: ``deploy/releasing/bill_of_materials.py``.

Written from the lock, which is the whole truth of what is installed, on any system and
with every admitted file's hash; a look at one environment would know one system alone.
Prints JSON of CycloneDX 1.6 (ECMA-424), which needs nothing but Python.
"""

import datetime as dt
import importlib.metadata
import json
import re
import sys
import tomllib
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
LOCK = ROOT / "deploy" / "requirements.txt"
_PIN = re.compile(r"^([\w.-]+)(?:\[[^]]*\])?==([^\s;\\]+)\s*(?:;([^\\]+))?")
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


def bill(*, at: dt.datetime) -> dict[str, Any]:
    """Return the whole bill: the service, and each package of its lock."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    own = f"pkg:generic/{project['name']}@{project['version']}"
    packages = list(components(LOCK.read_text(encoding="utf-8")))
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid.uuid4()}",
        "version": 1,
        "metadata": {
            "timestamp": at.isoformat(),
            "component": {
                "type": "application",
                "bom-ref": own,
                "name": project["name"],
                "version": project["version"],
                "description": project["description"],
            },
        },
        "components": packages,
        "dependencies": [
            {"ref": own, "dependsOn": [one["bom-ref"] for one in packages]}
        ],
    }


def components(lock: str) -> Iterator[dict[str, Any]]:
    """Yield what a lock names; several hashes are of the several files of a version."""
    for part in re.split(r"\n(?=\S)", lock):
        pin = _PIN.match(part)
        if pin is None:
            continue
        name, version, where = pin[1], pin[2], (pin[3] or "").strip()
        purl = f"pkg:pypi/{name.lower().replace('_', '-')}@{version}"
        component: dict[str, Any] = {
            "type": "library",
            "bom-ref": purl,
            "name": name,
            "version": version,
            "purl": purl,
            "hashes": [
                {"alg": "SHA-256", "content": digest} for digest in _HASH.findall(part)
            ],
        }
        if where:
            component["properties"] = [{"name": "python:marker", "value": where}]
        if licence := licence_of(name):
            component["licenses"] = [{"expression": licence}]
        yield component


def licence_of(name: str) -> str:
    """Return the licence that an installed package declares as an expression."""
    try:
        metadata = importlib.metadata.metadata(name)
    except importlib.metadata.PackageNotFoundError:
        return ""
    expressions: list[str] = metadata.get_all("License-Expression") or [""]
    return expressions[0]


if __name__ == "__main__":
    json.dump(bill(at=dt.datetime.now(tz=dt.UTC)), sys.stdout, indent=1)
    print()
