"""
Check everything: ``python deploy/test.py``.

Needs nothing but Python 3.11 or later, Chromium and PostgreSQL; as root on Debian
it installs what is absent, elsewhere it says so.  Cheap checks come first, every
step runs whatever the others found, and the last line is pytest's own.  What is too
slow for each run is left to ``--long``: steps (``Run.long_step``) and tests (marked
``long``); a run without it names them at its end.
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
from contextlib import suppress
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
    other_python,
    prepare,
    prepare_other,
    quick_folder,
    venv_package,
)
from deploy.throwaway_postgresql import bin_folder, throwaway_postgresql  # noqa: E402

PARTS = ("lint", "types", "postgresql", "sqlite", "browser")
# Chromium without windows: the tests take half the work, where there is such a package.
SHELL = "chromium-headless-shell"
BROWSERS = (SHELL, "chromium", "chromium-browser", "google-chrome", "chrome")
COMPUTE = "*/compute/*"
COMPUTE_TESTS = ("tests/inventory/compute", "tests/inspection/compute")
COMPUTING = ("inventory/compute", "inspection/compute", *COMPUTE_TESTS)
OTHER_PYTHONS = ("3.12", "3.13")
COVERED = ("--cov", "--cov-branch", "--cov-report=")
LEFT_WORDS = "Left to --long:"


@dataclass
class Run:
    """What this run was asked for, and what it has found so far."""

    parts: frozenset[str]
    is_long: bool = False
    failed: list[str] = field(default_factory=list)
    # In the order found, each once.
    left: dict[str, None] = field(default_factory=dict)
    closing_line: str = ""

    def wants(self, *parts: str) -> bool:
        return not self.parts.isdisjoint(parts)

    def step(self, name: str, command: list[str], **environment: str) -> None:
        """Run one check in the project's environment; note it if it fails."""
        print(f"\n=== {name}", flush=True)
        begun = time.monotonic()
        is_pytest = command[1:3] == ["-m", "pytest"]
        if is_pytest and self.is_long:
            command = [*command, "--long"]
        code, last_line = streamed(command, os.environ | environment, self.note_left)
        if is_pytest:
            self.closing_line = last_line
        if code:
            self.failed.append(name)
        word = "failed" if code else "passed"
        print(f"=== {name}: {word}, {time.monotonic() - begun:.0f} s", flush=True)

    def long_step(self, name: str, command: list[str], **environment: str) -> None:
        """Run one check that is too slow for each run, or note that it was left."""
        if self.is_long:
            self.step(name, command, **environment)
        else:
            self.left[name] = None

    def covered(self, *more: str) -> tuple[str, ...]:
        """Measure what a page or a command reaches in a long run: it takes as long."""
        return (*COVERED, *more) if self.is_long else ()

    def note_left(self, line: str) -> None:
        """Note which tests pytest says were left."""
        if line.startswith(LEFT_WORDS):
            self.left[line.removeprefix(LEFT_WORDS).strip()] = None

    def say_left(self) -> None:
        for words in self.left:
            print(f"{LEFT_WORDS} {words}", flush=True)


def streamed(
    command: list[str], environment: Mapping[str, str], hear: Callable[[str], None]
) -> tuple[int, str]:
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
            hear(line)
            last = line.strip() or last
    return process.returncode, last


def python(*words: str) -> list[str]:
    return [str(PYTHON), *words]


# --- what the machine must have ----------------------------------------------


def browser() -> str | None:
    return os.environ.get("FEELERBOOK_CHROMIUM") or next(
        filter(None, map(shutil.which, BROWSERS)), None
    )


def system_program(name: str) -> str | None:
    """Return where a program is, also one that ordinary users do not look for."""
    return shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin")


def bring_packages(run: Run) -> None:
    """Install what is absent as root on Debian; else say what is missing."""
    wanted: dict[str, Callable[[], bool]] = {
        venv_package(): can_make_venv,
        "chromium": lambda: not run.wants("sqlite", "browser") or bool(browser()),
        "postgresql": (
            lambda: not run.wants("postgresql", "sqlite") or bool(bin_folder())
        ),
        "nginx": lambda: not run.wants("sqlite") or bool(system_program("nginx")),
        "faketime": lambda: not run.is_long or bool(system_program("faketime")),
        "openssl": lambda: not run.wants("sqlite") or bool(system_program("openssl")),
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
    if run.wants("sqlite", "browser") and not shutil.which(SHELL) and is_debian_root():
        bring_shell()


def bring_shell() -> None:
    """Install the quicker browser if it can be had; the tests run without it."""
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "-q", "install", "-y", "--no-install-recommends", SHELL]
    patience = ["-o", "Acquire::Retries=0", "-o", "Acquire::http::Timeout=10"]
    with suppress(subprocess.SubprocessError):
        # What hangs, hangs before anything is changed.
        for words, within_s in (
            (["--download-only", *patience], 120),
            (["--no-download"], None),
        ):
            command = [*install, *words]
            subprocess.run(command, check=True, env=environment, timeout=within_s)


def is_debian_root() -> bool:
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return is_root and platform.system() == "Linux" and bool(shutil.which("apt-get"))


# --- the checks --------------------------------------------------------------


def lint(run: Run) -> None:
    run.step("ruff check", python("-m", "ruff", "check", "."))
    run.step("ruff format", python("-m", "ruff", "format", "--check", "."))
    folders = [f"{app}/templates" for app in ("deploy", "inspection", "inventory")]
    run.step("djlint", python("-m", "djlint", "--lint", "--quiet", *folders))
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
    # What a test wrote is rolled back.  A process that looks at the tables meanwhile
    # finds them empty, and the next test's rows are planned as none: by chance, a page
    # of three hundred cars took longer than a statement may.
    with throwaway_postgresql(bin_dir, autovacuum="off") as address:
        run.step(
            "tests on PostgreSQL",
            pytest("--database-only", "-m", "not browser", "-q", *run.covered()),
            FEELERBOOK_TEST_DATABASE=address,
            FEELERBOOK_HYPOTHESIS="ci",
        )


def on_other_pythons(run: Run) -> None:
    """Run the suite, but for the browser, once on each other Python that is served."""
    for version in OTHER_PYTHONS:
        if sys.version_info[:2] == tuple(map(int, version.split("."))):
            continue
        name = f"tests on Python {version}"
        interpreter = other_python(version)
        if interpreter is None:
            run.left[f"{name} (this machine has none)"] = None
        elif not run.is_long:
            run.left[name] = None
        else:
            inside = prepare_other(version, interpreter, TEST_LOCK)
            words = pytest("tests", "-q", "-m", "not browser and not long")
            run.step(name, [str(inside), *words[1:]], FEELERBOOK_HYPOTHESIS="ci")


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
    run.step(
        "tests of what is computed",
        pytest(*COMPUTING, "--doctest-modules", *COVERED, "--cov-append"),
        **environment,
    )
    report = ["-m", "coverage", "report"]
    # By its own tests alone; the rest is met by those of the pages that show it.
    run.step(
        "coverage of compute by its own tests, 97 %",
        python(*report, f"--include={COMPUTE}", "--fail-under=97"),
    )
    others = [f"--ignore={folder}" for folder in COMPUTE_TESTS]
    run.step(
        "tests on SQLite and in Chromium",
        pytest("tests", *others, *run.covered("--cov-append")),
        **environment,
    )
    run.long_step(
        "coverage of compute, 99 %",
        python(*report, f"--include={COMPUTE}", "--fail-under=99"),
    )
    run.long_step(
        "coverage of the rest, 90 %",
        python(*report, f"--omit={COMPUTE}", "--fail-under=90"),
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
        (("sqlite",), on_other_pythons),
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
    parser.add_argument(
        "--long", action="store_true", help="and what is too slow for each run"
    )
    return parser.parse_args()


def stop(signal_number: int, frame: object) -> None:
    """End the run in order, so that its PostgreSQL ends with it."""
    sys.exit(128 + signal_number)


def main() -> int:
    asked = arguments()
    run = Run(parts=frozenset(asked.only or PARTS), is_long=asked.long)
    signal.signal(signal.SIGTERM, stop)
    # Kept bytecode: half of what each start of Python costs, and a run makes hundreds.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    try:
        bring_packages(run)
        prepare(RUN_LOCK, TEST_LOCK)
    except CannotPrepareError as error:
        print(error, file=sys.stderr)
        return 1
    with quick_folder():
        check(run)
    if run.failed:
        print(f"\nFailed: {', '.join(run.failed)}.")
    run.say_left()
    print(f"\n{run.closing_line}" if run.closing_line else "", flush=True)
    return 1 if run.failed else 0


if __name__ == "__main__":
    sys.exit(main())
