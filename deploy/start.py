"""
Start Feelerbook on this computer: ``python deploy/start.py``.

Needs nothing but Python 3.11 or later: makes ``.venv`` and installs into it what
``deploy/requirements.txt`` names, then hands over to ``deploy/serve.py`` inside it.
Written for Linux, macOS and Windows; so far it was run on Linux alone.
"""

import argparse
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
if not __package__:
    # Run as a file, this folder would come first, and its test.py hide Python's own.
    sys.path[0] = str(ROOT)

from deploy.environment import RUN_LOCK, CannotPrepareError, prepare  # noqa: E402


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="start.py", description="Start Feelerbook on this computer."
    )
    parser.add_argument("--port", type=int, default=8000, help="8000 unless given")
    parser.add_argument(
        "--host",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="an address of this computer, to serve the hall (0.0.0.0: all of them)",
    )
    parser.add_argument(
        "--data",
        type=Path,
        default=ROOT / "data",
        metavar="FOLDER",
        help="where the database and its keys are kept; data in the project",
    )
    parser.add_argument(
        "--backup-to",
        type=Path,
        metavar="FOLDER",
        help="a stick or another disk, to which each backup is copied as well",
    )
    parser.add_argument(
        "--no-demo", action="store_true", help="leave an empty database empty"
    )
    parser.add_argument(
        "--club",
        choices=["demo", "own"],
        help="which club of the folder: the demo, or one of your own beside it; "
        "the one served last unless given",
    )
    return parser.parse_args(words)


def hand_over(python: Path, options: argparse.Namespace) -> int:
    """Serve in the environment; on Windows, which cannot exec, as a child."""
    command = [
        str(python),
        "-m",
        "deploy.serve",
        f"--port={options.port}",
        f"--host={options.host}",
        f"--data={options.data.resolve()}",
        *(["--no-demo"] if options.no_demo else []),
        *([f"--backup-to={options.backup_to.resolve()}"] if options.backup_to else []),
        *([f"--club={options.club}"] if options.club else []),
    ]
    os.chdir(ROOT)
    if os.name != "nt":
        os.execv(command[0], command)  # noqa: S606
    try:
        return subprocess.run(command, check=False).returncode
    except KeyboardInterrupt:
        return 0


def main() -> int:
    options = arguments()
    try:
        python = prepare(RUN_LOCK)
    except CannotPrepareError as error:
        print(error, file=sys.stderr)
        return 1
    return hand_over(python, options)


if __name__ == "__main__":
    sys.exit(main())
