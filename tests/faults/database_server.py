"""A PostgreSQL of one test that is stopped, hangs, and comes back."""

import contextlib
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psutil

from deploy.throwaway_postgresql import (
    NAME,
    START_WITHIN_S,
    bin_folder,
    make_cluster,
    ordinary_user,
    server_command,
    wait_for,
)
from tests.deploy.servers import free_port


class DatabaseServer:
    """A cluster in a folder of its own, reached by its socket or by address."""

    def __init__(self, folder: Path) -> None:
        found = bin_folder()
        assert found, "The tests of an absent database need PostgreSQL."
        self.bin_dir, self.folder, self.port = found, folder, free_port()
        self.identity = ordinary_user(folder)
        make_cluster(self.bin_dir, folder, self.identity)
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def by_socket(self) -> str:
        return f"postgresql://{NAME}@:{self.port}/postgres?host={self.folder}"

    @property
    def by_address(self) -> str:
        return f"postgresql://{NAME}@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        command = [
            *server_command(self.bin_dir, self.folder),
            "--listen_addresses=127.0.0.1",
            f"--port={self.port}",
        ]
        self.process = subprocess.Popen(command, **self.identity)
        wait_for(self.folder, self.process, port=self.port)

    def stop(self) -> None:
        if self.process is not None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(timeout=START_WITHIN_S)
            self.process = None

    @contextlib.contextmanager
    def hanging(self) -> Iterator[None]:
        """Let every process of it stand still: lines stay open, nothing answers."""
        assert self.process is not None
        main = psutil.Process(self.process.pid)
        stopped = [main, *main.children(recursive=True)]
        try:
            for process in stopped:
                process.suspend()
            yield
        finally:
            for process in stopped:
                with contextlib.suppress(psutil.NoSuchProcess):
                    process.resume()


@contextlib.contextmanager
def database_server() -> Iterator[DatabaseServer]:
    folder = Path(tempfile.mkdtemp(prefix="fb-pg-"))
    server = DatabaseServer(folder)
    try:
        server.start()
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)
