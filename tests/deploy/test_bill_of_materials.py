"""
The bill of materials holds each package of the lock, and is CycloneDX.

The shape is that of CycloneDX 1.6 (ECMA-424, clauses on bom, component, hash); a purl
is that of the package-url specification for PyPI: small letters, no underscore.
"""

import datetime as dt
import json
import re
import subprocess
import sys

from deploy.releasing.bill_of_materials import LOCK, bill
from tests.deploy.servers import ROOT

AT = dt.datetime(2026, 5, 8, 12, 0, tzinfo=dt.UTC)


def test_the_bill_names_each_package_of_the_lock_with_its_hashes() -> None:
    done = subprocess.run(
        [sys.executable, "deploy/releasing/bill_of_materials.py"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    said = json.loads(done.stdout)
    assert (said["bomFormat"], said["specVersion"]) == ("CycloneDX", "1.6")
    lock = LOCK.read_text(encoding="utf-8")
    pins = re.findall(r"(?m)^([\w.-]+)(?:\[[^]]*\])?==([^\s;\\]+)", lock)
    assert len(pins) > 20
    assert [(one["name"], one["version"]) for one in said["components"]] == pins
    hashes = [one["content"] for part in said["components"] for one in part["hashes"]]
    assert hashes == re.findall(r"sha256:([0-9a-f]{64})", lock)


def test_each_reference_is_one_of_the_bill_and_none_is_twice() -> None:
    said = bill(at=AT)
    refs = [one["bom-ref"] for one in said["components"]]
    assert len(set(refs)) == len(refs)
    (root,) = said["dependencies"]
    assert root["ref"] == said["metadata"]["component"]["bom-ref"]
    assert root["dependsOn"] == refs
    for ref in refs:
        assert re.fullmatch(r"pkg:pypi/[a-z0-9.-]+@[\w.!+-]+", ref)
    assert re.fullmatch(
        r"urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", said["serialNumber"]
    )
