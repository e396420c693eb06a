"""The harness itself: a skip without a name fails, and each database gets its tests."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

SAMPLE = """
import pytest

@pytest.mark.skip(reason="no name")
def test_skipped(): ...

def test_plain(): ...

@pytest.mark.django_db
def test_on_database(): ...

@pytest.mark.postgresql
@pytest.mark.django_db
def test_of_postgresql(): ...

@pytest.mark.sqlite
@pytest.mark.django_db
def test_of_sqlite(): ...
"""


def run_sample(folder: Path, *options: str, **environment: str) -> tuple[int, str]:
    (folder / "conftest.py").write_text("from tests.conftest import *\n")
    (folder / "test_sample.py").write_text(SAMPLE)
    config = f"--config-file={ROOT / 'pyproject.toml'}"
    words = ["-q", "-p", "no:cacheprovider", f"--rootdir={folder}", config, *options]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *words, str(folder / "test_sample.py")],
        cwd=ROOT,
        env=os.environ | {"FEELERBOOK_TEST_DATABASE": ""} | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout


def test_a_skip_without_a_name_fails_the_whole_run(tmp_path: Path) -> None:
    code, said = run_sample(tmp_path, "--no-unnamed-skips")
    assert code == 1
    assert "SKIPPED WITHOUT A NAME: " in said
    assert "3 passed, 1 skipped, 1 deselected" in said


def test_tests_of_one_database_are_left_out_on_the_other(tmp_path: Path) -> None:
    said = run_sample(tmp_path, "--database-only", "--collect-only")[1]
    assert "test_of_sqlite" in said
    assert "test_on_database" in said
    assert "test_of_postgresql" not in said
    assert "test_plain" not in said
    said = run_sample(
        tmp_path,
        "--database-only",
        "--collect-only",
        FEELERBOOK_TEST_DATABASE="postgresql:///never-opened",
    )[1]
    assert "test_of_postgresql" in said
    assert "test_of_sqlite" not in said
