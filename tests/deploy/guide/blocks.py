"""The administrators' guide, block by block, as a test runs it."""

import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from tests.deploy.servers import ROOT, clean_environment

GUIDE = ROOT / "deploy" / "ADMINISTRATORS.md"
_BLOCK = re.compile(r"<!-- run: ([\w ]+) -->\n```\w+\n(.*?)```", re.DOTALL)


def blocks() -> dict[str, str]:
    return dict(_BLOCK.findall(GUIDE.read_text(encoding="utf-8")))


def run(name: str, places: Mapping[str, str], **environment: str) -> str:
    """Run a block with the places of the guide put where this test has them."""
    words = blocks()[name]
    for place, here in {**places, ".venv/bin/python": sys.executable}.items():
        words = words.replace(place, here)
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", words],
        cwd=ROOT,
        env=clean_environment() | environment,
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, f"{name}: {done.stderr}"
    return done.stdout


def settings_of_the_guide() -> dict[str, str]:
    """Read the block that goes into the environment's file, as systemd does."""
    lines = blocks()["environment"].split()
    return dict(line.split("=", 1) for line in lines)


def private(folder: Path) -> Path:
    folder.mkdir(mode=0o700)
    return folder
