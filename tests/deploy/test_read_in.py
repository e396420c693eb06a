"""A server has its program read in, and never looks through it for garbage again."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ASKED = """
import gc, sys
from deploy.{module} import application
pages = "inspection.views.block.pages" in sys.modules
kept = gc.get_freeze_count()
left = len(gc.get_objects())
print(pages, gc.isenabled(), kept > 50 * left)
"""


@pytest.mark.parametrize("module", ["wsgi", "asgi"])
def test_program_is_read_in_and_left_out_of_collections(module: str) -> None:
    said = subprocess.run(
        [sys.executable, "-c", ASKED.format(module=module)],
        cwd=ROOT,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "deploy.settings.test"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.split() == ["True", "True", "True"]
