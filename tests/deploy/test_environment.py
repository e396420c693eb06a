"""Making ``.venv``: what is told, what is done once, what is left alone."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from deploy import environment
from deploy.environment import CannotPrepareError


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty project in which ``.venv`` would be made."""
    venv = tmp_path / ".venv"
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "FOLDER", venv)
    monkeypatch.setattr(environment, "PYTHON", venv / "bin" / "python")
    monkeypatch.setattr(environment, "STAMPS", venv / "filled-from")
    return tmp_path


def lock(folder: Path, text: str = "") -> Path:
    file = folder / "lock.txt"
    file.write_text(text, encoding="ascii")
    return file


def test_environment_is_made_and_filled_once(folder: Path) -> None:
    empty = lock(folder, "# nothing to install\n")
    python = environment.prepare(empty)
    assert python.exists()
    marker = folder / ".venv" / "a-developers-own-file"
    marker.touch()
    assert environment.is_filled_from(empty)
    assert environment.prepare(empty) == python
    lock(folder, "# nothing to install, said differently\n")
    assert not environment.is_filled_from(empty)
    environment.prepare(empty)
    assert environment.is_filled_from(empty)
    assert marker.exists()


def test_two_first_starts_at_once_make_one_environment(folder: Path) -> None:
    empty = lock(folder, "# nothing to install\n")
    with ThreadPoolExecutor() as pool:
        made = list(pool.map(environment.prepare, [empty, empty]))
    assert made == [folder / ".venv" / "bin" / "python"] * 2
    done = subprocess.run([made[0], "-c", "print(1)"], check=True, capture_output=True)
    assert done.stdout == b"1\n"


def test_own_files_are_compiled_when_they_change(folder: Path) -> None:
    for name in environment.PACKAGES:
        (folder / name).mkdir()
    own, empty = folder / "deploy" / "own.py", lock(folder, "# nothing to install\n")
    own.write_text("WORD = 1\n", encoding="ascii")
    environment.prepare(empty)
    (compiled,) = folder.glob("deploy/__pycache__/own.*.pyc")
    compiled.unlink()
    environment.prepare(empty)
    assert not compiled.exists()
    own.write_text("WORD = 22\n", encoding="ascii")
    environment.prepare(empty)
    assert compiled.exists()


def test_own_files_that_cannot_be_compiled_do_not_stop_a_start(folder: Path) -> None:
    for name in environment.PACKAGES:
        (folder / name).mkdir()
    (folder / "deploy" / "own.py").write_text("WORD =\n", encoding="ascii")
    empty = lock(folder, "# nothing to install\n")
    assert environment.prepare(empty).exists()
    assert environment.prepare(empty).exists()


def test_a_lock_that_cannot_be_had_is_said_and_tried_again(folder: Path) -> None:
    # A requirement without a hash is refused before anything is looked up.
    broken = lock(folder, "no-such-thing==0\n")
    with pytest.raises(CannotPrepareError, match="The installation failed"):
        environment.prepare(broken)
    assert not environment.is_filled_from(broken)


def test_python_without_venv_names_the_package(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(environment, "can_make_venv", lambda: False)
    package = f"python3.{sys.version_info.minor}-venv"
    with pytest.raises(CannotPrepareError, match=f"install the package {package}"):
        environment.prepare(lock(folder))
    assert not (folder / ".venv").exists()


def test_python_too_old_is_told_the_least_version(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(environment, "LEAST_PYTHON", (99, 0))
    with pytest.raises(CannotPrepareError, match=r"Python 3\.11 or later"):
        environment.prepare(lock(folder))


def test_this_python_can_make_environments() -> None:
    assert environment.can_make_venv()


@pytest.mark.parametrize("path", [environment.RUN_LOCK, environment.TEST_LOCK])
def test_locks_name_every_file_by_hash_and_no_host(path: Path) -> None:
    text = path.read_text(encoding="ascii")
    assert "://" not in text
    assert "index" not in text
    requirements = [line for line in text.splitlines() if "==" in line]
    assert requirements
    assert all(line.endswith("\\") for line in requirements)


def test_what_is_run_is_tested() -> None:
    run, test = (
        {line for line in path.read_text("ascii").splitlines() if "==" in line}
        for path in (environment.RUN_LOCK, environment.TEST_LOCK)
    )
    assert run <= test
