"""The test command's own parts: a failed step counts, a missing program is named."""

import sys

import pytest

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
    assert streamed(words, {}) == (0, "= 2 passed =")


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


def test_a_run_that_changes_files_fails() -> None:
    run = everything()
    check_tree(run, "?? as-it-never-was\n")
    assert run.failed == ["clean tree"]
