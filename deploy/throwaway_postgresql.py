"""A PostgreSQL of one test run: its own folder, no network, an ordinary user."""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

NAME = "feelerbook"
START_WITHIN_S = 60


def bin_folder() -> Path | None:
    """Return the folder of ``initdb``, of the newest PostgreSQL that is installed."""
    if program := shutil.which("initdb"):
        return Path(program).resolve().parent
    debian = Path("/usr/lib/postgresql").glob("*/bin/initdb")
    versions = sorted(debian, key=lambda path: int(path.parts[-3]))
    return versions[-1].parent if versions else None


@contextlib.contextmanager
def throwaway_postgresql(bin_dir: Path, **options: str) -> Iterator[str]:
    """Run a server on a socket in a temporary folder; yield its address."""
    folder = Path(tempfile.mkdtemp(prefix="fb-pg-"))
    identity = ordinary_user(folder)
    try:
        make_cluster(bin_dir, folder, identity)
        server = subprocess.Popen(server_command(bin_dir, folder, options), **identity)
        try:
            wait_for(folder, server)
            yield f"postgresql://{NAME}@/{NAME}?host={folder}"
        finally:
            server.send_signal(signal.SIGINT)  # "fast": it hangs up on everyone
            server.wait(timeout=START_WITHIN_S)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def ordinary_user(folder: Path) -> dict[str, Any]:
    """PostgreSQL refuses to run as root: give the folder to somebody else."""
    options: dict[str, Any] = {"cwd": folder}
    if os.name == "nt" or os.geteuid() != 0:
        return options
    import pwd  # noqa: PLC0415  not on Windows

    names = {entry.pw_name for entry in pwd.getpwall()}
    entry = pwd.getpwnam("postgres" if "postgres" in names else "nobody")
    os.chown(folder, entry.pw_uid, entry.pw_gid)
    return options | {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


def make_cluster(bin_dir: Path, folder: Path, identity: dict[str, Any]) -> None:
    subprocess.run(
        [
            bin_dir / "initdb",
            f"--pgdata={folder / 'data'}",
            f"--username={NAME}",
            "--auth=trust",  # the folder, and so the socket, is open to one user only
            "--encoding=UTF8",
            "--locale=C",
            "--data-checksums",
            "--no-sync",
        ],
        check=True,
        stdout=subprocess.DEVNULL,
        **identity,
    )


def server_command(
    bin_dir: Path, folder: Path, more: Mapping[str, str] = MappingProxyType({})
) -> list[str]:
    options = {
        "listen_addresses": "",
        "unix_socket_directories": str(folder),
        "fsync": "off",  # nothing of it outlives the run
        "log_min_messages": "panic",
        "log_min_error_statement": "fatal",
        **more,
    }
    command = [str(bin_dir / "postgres"), "-D", str(folder / "data")]
    return command + [f"--{name}={value}" for name, value in options.items()]


def wait_for(
    folder: Path, server: "subprocess.Popen[bytes]", *, port: int = 5432
) -> None:
    deadline = time.monotonic() + START_WITHIN_S
    while time.monotonic() < deadline and server.poll() is None:
        with socket.socket(socket.AF_UNIX) as probe:
            try:
                probe.connect(str(folder / f".s.PGSQL.{port}"))
            except OSError:
                time.sleep(0.1)
            else:
                return
    msg = "The throwaway PostgreSQL did not start."
    raise RuntimeError(msg)
