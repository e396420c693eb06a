"""The test command's own parts: a failed step counts, a missing program is named."""

import sys
from pathlib import Path

import pytest

from deploy import environment
from deploy import test as command
from deploy.environment import CannotPrepareError
from deploy.test import Run, bring_packages, check_tree, streamed


def everything() -> Run:
    return Run(parts=frozenset(command.PARTS))


def test_a_failed_step_is_noted_and_the_next_still_runs(
    capfd: pytest.CaptureFixture[str],
) -> None:
    run = everything()
    run.step("wrong", [sys.executable, "-c", "raise SystemExit(3)"])
    run.step("right", [sys.executable, "-c", "print('went on')"])
    assert run.failed == ["wrong"]
    said = capfd.readouterr().out
    assert "=== wrong: failed" in said
    assert "went on\n=== right: passed" in said


def test_the_last_line_of_a_step_is_kept() -> None:
    words = [sys.executable, "-c", "print('one'); print('= 2 passed ='); print()"]
    heard: list[str] = []
    assert streamed(words, {}, heard.append) == (0, "= 2 passed =")
    assert heard == ["one\n", "= 2 passed =\n", "\n"]


def test_closing_line_is_that_of_the_last_pytest_run() -> None:
    run = everything()
    run.step("pytest", [sys.executable, "-m", "pytest", "--version"])
    run.step("another", [sys.executable, "-c", "print('no closing line')"])
    assert run.closing_line.startswith("pytest ")


def test_missing_programs_are_named_where_nothing_can_be_installed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(command, "is_debian_root", lambda: False)
    monkeypatch.setattr(command, "browser", lambda: None)
    monkeypatch.setattr(command, "bin_folder", lambda: None)
    with pytest.raises(CannotPrepareError, match="absent: chromium, postgresql"):
        bring_packages(everything())
    bring_packages(Run(parts=frozenset({"lint"})))


@pytest.mark.parametrize("is_there", [True, False])
def test_other_pythons_are_left_to_a_long_run_or_said_to_be_absent(
    monkeypatch: pytest.MonkeyPatch,
    is_there: bool,  # noqa: FBT001
) -> None:
    python = sys.executable if is_there else None
    monkeypatch.setattr(command, "other_python", lambda version: python)
    run = everything()
    command.on_other_pythons(run)
    wanted = "tests on Python 3.12" + ("" if is_there else " (this machine has none)")
    assert wanted in run.left


def test_another_python_gets_an_environment_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "FOLDER", tmp_path / ".venv")
    lock = tmp_path / "lock.txt"
    lock.write_text("# nothing to install\n", encoding="ascii")
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    inside = environment.prepare_other(version, sys.executable, lock)
    assert inside == tmp_path / f".venv-{version}" / "bin" / "python"
    marker = inside.with_name("kept")
    marker.touch()
    environment.prepare_other(version, sys.executable, lock)
    assert marker.exists()
    assert environment.other_python("9.99") is None


def test_a_run_that_changes_files_fails() -> None:
    run = everything()
    check_tree(run, "?? as-it-never-was\n")
    assert run.failed == ["clean tree"]


TESTS_OF_A_LONG_RUN = """
import pytest

def test_quick(): pass

@pytest.mark.long
@pytest.mark.parametrize("n", [1, 2, 3])
def test_slow(n): pass
"""
FAILS = [sys.executable, "-c", "raise SystemExit(3)"]


@pytest.fixture
def inner_run(tmp_path: Path) -> list[str]:
    """Return a run of pytest over a quick test and three long ones."""
    (tmp_path / "test_it.py").write_text(TESTS_OF_A_LONG_RUN)
    (tmp_path / "pytest.ini").write_text("[pytest]\nmarkers =\n  long")
    options = ["-q", "-p", "tests.left_to_long", "-p", "no:django", "-p", "no:cov"]
    return [sys.executable, "-m", "pytest", *options, f"{tmp_path}"]


@pytest.mark.parametrize("cores", [[], ["-n", "2"]], ids=["alone", "on both cores"])
def test_what_is_long_is_left_and_named(
    cores: list[str], inner_run: list[str], capfd: pytest.CaptureFixture[str]
) -> None:
    run = everything()
    run.step("tests", [*inner_run, *cores])
    run.long_step("a slow step", FAILS)
    assert not run.failed
    assert "1 passed" in run.closing_line
    capfd.readouterr()
    run.say_left()
    assert capfd.readouterr().out == (
        "Left to --long: 3 of the tests: test_it.py::test_slow (3)\n"
        "Left to --long: a slow step\n"
    )


def test_what_is_long_runs_when_asked_for(inner_run: list[str]) -> None:
    run = Run(parts=frozenset(command.PARTS), is_long=True)
    run.step("tests", inner_run)
    run.long_step("a slow step", FAILS)
    assert "4 passed" in run.closing_line
    assert run.failed == ["a slow step"]
    assert not run.left
