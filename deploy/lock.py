"""
Make the lock files again from ``pyproject.toml``: ``.venv/bin/python deploy/lock.py``.

Needs uv (``.venv/bin/python -m pip install uv``), which no installation and no
test run needs.  The files hold for Linux, macOS and Windows and for Python 3.11
and later, name every file by its hash, every extra, and no host.  A version stays
as it is locked unless ``--upgrade`` or ``--upgrade-package NAME`` asks for more.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
LOCKS = {
    "deploy/requirements.txt": [],
    # What is run is tested: the same versions, more packages.
    "deploy/requirements-test.txt": [
        "--group=test",
        "--constraint=deploy/requirements.txt",
    ],
}


def main() -> int:
    for lock, options in LOCKS.items():
        command = [sys.executable, "-m", "uv", "pip", "compile", "pyproject.toml"]
        command += [*options, "--universal", "--python-version=3.11"]
        # A pin without the extra that somebody asks for is another name to pip.
        command += ["--generate-hashes", "--no-strip-extras"]
        command += ["--no-annotate", "--quiet"]
        command += ["--custom-compile-command=python deploy/lock.py"]
        command += [f"--output-file={lock}", *sys.argv[1:]]
        if subprocess.run(command, cwd=ROOT, check=False).returncode:
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
