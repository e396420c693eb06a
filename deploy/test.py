"""
Check everything: ``python deploy/test.py``.

Needs nothing but Python 3.11 or later, Chromium and PostgreSQL; as root on Debian
it installs what is absent, elsewhere it says so.  Cheap checks come first, every
step runs whatever the others found, and the last line is pytest's own.
"""

import argparse
import os
import platform
import secrets
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
if not __package__:
    # Run as a file, this folder would come first, and hide Python's own ``test``.
    sys.path[0] = str(ROOT)

from deploy.environment import (  # noqa: E402
    PYTHON,
    RUN_LOCK,
    TEST_LOCK,
    CannotPrepareError,
    can_make_venv,
    prepare,
    venv_package,
)
from deploy.throwaway_postgresql import bin_folder, throwaway_postgresql  # noqa: E402

PARTS = ("lint", "types", "postgresql", "sqlite", "browser")
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
COMPUTE = "*/compute/*"
COVERED = ("--cov", "--cov-branch", "--cov-report=")


@dataclass
class Run:
    """What this run was asked for, and what it has found so far."""

    parts: frozenset[str]
    failed: list[str] = field(default_factory=list)
    closing_line: str = ""

    def wants(self, *parts: str) -> bool:
        return not self.parts.isdisjoint(parts)

    def step(self, name: str, command: list[str], **environment: str) -> None:
        """Run one check in the project's environment; note it if it fails."""
        print(f"\n=== {name}", flush=True)
        begun = time.monotonic()
        code, last_line = streamed(command, os.environ | environment)
        if command[1:3] == ["-m", "pytest"]:
            self.closing_line = last_line
        if code:
            self.failed.append(name)
        word = "failed" if code else "passed"
        print(f"=== {name}: {word}, {time.monotonic() - begun:.0f} s", flush=True)


def streamed(command: list[str], environment: Mapping[str, str]) -> tuple[int, str]:
    """Run a command, pass its output on, and return its code and its last line."""
    last = ""
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    ) as process:
        for line in process.stdout or ():
            print(line, end="", flush=True)
            last = line.strip() or last
    return process.returncode, last


def python(*words: str) -> list[str]:
    return [str(PYTHON), *words]


# --- what the machine must have ----------------------------------------------


def browser() -> str | None:
    return os.environ.get("FEELERBOOK_CHROMIUM") or next(
        filter(None, map(shutil.which, BROWSERS)), None
    )


def bring_packages(run: Run) -> None:
    """Install what is absent as root on Debian; else say what is missing."""
    wanted: dict[str, Callable[[], bool]] = {
        venv_package(): can_make_venv,
        "chromium": lambda: not run.wants("sqlite", "browser") or bool(browser()),
        "postgresql": lambda: not run.wants("postgresql") or bool(bin_folder()),
    }
    absent = [name for name, is_there in wanted.items() if not is_there()]
    if absent and is_debian_root():
        print(f"Installing {', '.join(absent)} …", flush=True)
        environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        for words in (
            ["update"],
            ["install", "-y", "--no-install-recommends", *absent],
        ):
            subprocess.run(["apt-get", "-q", *words], check=True, env=environment)
        absent = [name for name in absent if not wanted[name]()]
    if absent:
        msg = f"The tests need these packages, which are absent: {', '.join(absent)}."
        raise CannotPrepareError(msg)


def is_debian_root() -> bool:
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return is_root and platform.system() == "Linux" and bool(shutil.which("apt-get"))


# --- the checks --------------------------------------------------------------


def lint(run: Run) -> None:
    run.step("ruff check", python("-m", "ruff", "check", "."))
    run.step("ruff format", python("-m", "ruff", "format", "--check", "."))
    run.step("import contracts", [str(PYTHON.with_name("lint-imports"))])
    run.step(
        "check --deploy on the shared settings",
        python("manage.py", "check", "--deploy", "--fail-level=WARNING"),
        DJANGO_SETTINGS_MODULE="deploy.settings.shared",
        FEELERBOOK_SECRET_KEY=secrets.token_urlsafe(64),
        FEELERBOOK_HOSTS="desk.example",
        DATABASE_URL="postgresql:///never-opened",
    )
    run.step(
        "migrations are complete",
        python("manage.py", "makemigrations", "--check", "--dry-run"),
        DJANGO_SETTINGS_MODULE="deploy.settings.test",
    )


def types(run: Run) -> None:
    run.step("mypy", python("-m", "mypy"))


def pytest(*words: str) -> list[str]:
    # A file's tests stay together: what a module has made once is made once.  In the
    # order of the tree the browser's long files come first, and neither core idles
    # at the end.
    both_cores = ["-n", str(min(os.cpu_count() or 1, 2)), "--dist", "loadfile"]
    options = ["--no-loadscope-reorder", "--no-unnamed-skips", "--durations=12"]
    return python("-m", "pytest", *both_cores, *options, *words)


def on_postgresql(run: Run) -> None:
    bin_dir = bin_folder()
    if bin_dir is None:
        run.failed.append("PostgreSQL is absent")
        return
    with throwaway_postgresql(bin_dir) as address:
        run.step(
            "tests on PostgreSQL",
            pytest("--database-only", "-m", "not browser", "-q", *COVERED),
            FEELERBOOK_TEST_DATABASE=address,
            FEELERBOOK_HYPOTHESIS="ci",
        )


def on_sqlite(run: Run) -> None:
    """Run the whole suite, and hold its coverage against what is promised."""
    environment = {
        "FEELERBOOK_HYPOTHESIS": "ci",
        "FEELERBOOK_CHROMIUM": browser() or "",
        "FEELERBOOK_TEST_DATABASE": "",
    }
    if not run.wants("sqlite"):
        run.step("browser tests", pytest("-m", "browser"), **environment)
        return
    computing = ["--doctest-modules", "inventory/compute", "inspection/compute"]
    run.step(
        "tests on SQLite and in Chromium",
        # What only the other database reaches is covered as well.
        pytest("tests", *computing, *COVERED, "--cov-append"),
        **environment,
    )
    report = ["-m", "coverage", "report"]
    run.step(
        "coverage of compute, 100 %",
        python(*report, f"--include={COMPUTE}", "--fail-under=100"),
    )
    run.step(
        "coverage of the rest, 95 %",
        python(*report, f"--omit={COMPUTE}", "--fail-under=95"),
    )


def tree() -> str | None:
    """Return what git sees as changed, or None outside a repository."""
    command = ["git", "status", "--porcelain"]
    if not (ROOT / ".git").exists() or not shutil.which("git"):
        return None
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    return done.stdout


def check_tree(run: Run, before: str | None) -> None:
    after = tree()
    if before is None or after is None:
        print("\n=== clean tree: not a repository, so it was not compared")
    elif after != before:
        print(f"\n=== clean tree: the run changed files\n{after}")
        run.failed.append("clean tree")


def check(run: Run) -> None:
    before = tree()
    (ROOT / ".coverage").unlink(missing_ok=True)
    steps: list[tuple[tuple[str, ...], Callable[[Run], None]]] = [
        (("lint",), lint),
        (("types",), types),
        (("postgresql",), on_postgresql),
        (("sqlite", "browser"), on_sqlite),
    ]
    for parts, step in steps:
        if run.wants(*parts):
            step(run)
    check_tree(run, before)


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="test.py", description="Check everything, or a part of it."
    )
    parser.add_argument(
        "--only",
        action="append",
        choices=PARTS,
        help="run this part; may be given more than once",
    )
    return parser.parse_args()


def stop(signal_number: int, frame: object) -> None:
    """End the run in order, so that its PostgreSQL ends with it."""
    sys.exit(128 + signal_number)


def main() -> int:
    run = Run(parts=frozenset(arguments().only or PARTS))
    signal.signal(signal.SIGTERM, stop)
    try:
        bring_packages(run)
        prepare(RUN_LOCK, TEST_LOCK)
    except CannotPrepareError as error:
        print(error, file=sys.stderr)
        return 1
    check(run)
    if run.failed:
        print(f"\nFailed: {', '.join(run.failed)}.")
    print(f"\n{run.closing_line}" if run.closing_line else "", flush=True)
    return 1 if run.failed else 0


if __name__ == "__main__":
    sys.exit(main())
