"""The two servers as they are installed: the local one, and gunicorn behind nginx."""

import contextlib
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from deploy.test import system_program

ROOT = Path(__file__).resolve().parents[2]
SERVE = [sys.executable, "-m", "deploy.serve"]
ADDRESS = re.compile(r"Feelerbook: (http://\S+)")
START_WITHIN_S = 60
NAME = "desk.example"


def clean_environment() -> dict[str, str]:
    """Give the environment without what the test run has said of itself."""
    kept = {k: v for k, v in os.environ.items() if "FEELERBOOK" not in k}
    kept.pop("DJANGO_SETTINGS_MODULE", None)
    return kept


@contextlib.contextmanager
def running(*words: str) -> Iterator[tuple["subprocess.Popen[str]", str, list[str]]]:
    """Start, wait for the address, yield it with the lines before it; end it."""
    process = subprocess.Popen(
        words, cwd=ROOT, env=clean_environment(), stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    lines: list[str] = []
    try:
        for line in process.stdout:
            lines.append(line)
            if found := ADDRESS.search(line):
                yield process, found[1], lines
                return
        raise AssertionError(lines)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=60)
        process.stdout.close()


def fetch(address: str) -> tuple[int, str]:
    with urllib.request.urlopen(address, timeout=60) as answer:  # noqa: S310
        return answer.status, answer.read().decode()


@dataclass(frozen=True, kw_only=True)
class Door:
    """Where a server listens, and how one connects to it."""

    port: int
    host: str = NAME
    tls: ssl.SSLContext | None = None

    def connect(self, *, timeout: float = 30) -> socket.socket:
        line = socket.create_connection(("127.0.0.1", self.port), timeout=timeout)
        return (
            self.tls.wrap_socket(line, server_hostname=self.host) if self.tls else line
        )


@contextlib.contextmanager
def gunicorn(
    folder: Path, environment: Mapping[str, str], *words: str
) -> Iterator[tuple["subprocess.Popen[bytes]", int]]:
    """Run gunicorn as the unit does, on a free port; yield it with the port."""
    log = folder / "gunicorn.log"
    command = [sys.executable, "-m", "gunicorn", "--config=deploy/gunicorn_conf.py"]
    command += [*words, "deploy.wsgi"]
    chosen = clean_environment() | {"FEELERBOOK_BIND": "127.0.0.1:0", **environment}
    with log.open("wb") as file:
        process = subprocess.Popen(command, cwd=ROOT, env=chosen, stderr=file)
        try:
            yield process, listening_port(log, process)
        finally:
            process.terminate()
            process.wait(timeout=60)


def listening_port(log: Path, process: "subprocess.Popen[bytes]") -> int:
    deadline = time.monotonic() + START_WITHIN_S
    while time.monotonic() < deadline and process.poll() is None:
        for line in log.read_text().splitlines():
            if "Listening at: http://127.0.0.1:" in line:
                return int(line.split("127.0.0.1:")[1].split()[0])
        time.sleep(0.1)
    raise AssertionError(log.read_text())


def manage(environment: Mapping[str, str], *words: str) -> None:
    """Run one command of the installation, as its unit does before it starts."""
    command = [sys.executable, "manage.py", *words]
    chosen = clean_environment() | dict(environment)
    done = subprocess.run(
        command, cwd=ROOT, env=chosen, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr


@contextlib.contextmanager
def nginx(
    folder: Path, *, behind: int = 8000, group: str = ""
) -> Iterator[tuple[int, Door]]:
    """
    Run nginx with the file that is shipped; yield its plain port and its door.

    In front of one server by its port, or of a group as nginx writes one.
    """
    certificate = make_certificate(folder)
    plain, tls = free_port(), free_port()
    config = folder / "nginx.conf"
    alone = f"server 127.0.0.1:{behind}; keepalive 16;"
    group = group or f"upstream feelerbook {{ {alone} }}"
    config.write_text(whole_nginx_config(folder, group, plain=plain, tls=tls))
    program = system_program("nginx")
    assert program, "The tests of the shared installation need nginx."
    process = subprocess.Popen(
        [program, "-p", str(folder), "-e", str(folder / "nginx.log"), "-c", str(config)]
    )
    try:
        wait_for_port(tls, process)
        context = ssl.create_default_context(cafile=str(certificate))
        yield plain, Door(port=tls, tls=context)
    finally:
        process.send_signal(signal.SIGQUIT if os.name != "nt" else signal.SIGTERM)
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.terminate()
            process.wait(timeout=10)


def whole_nginx_config(folder: Path, group: str, *, plain: int, tls: int) -> str:
    """Put the shipped file into an http block, on ports of this run."""
    shipped = (ROOT / "deploy" / "nginx.conf").read_text(encoding="utf-8")
    shipped = re.sub(r"(?m)^ *listen \[::\].*\n", "", shipped)
    shipped = re.sub(r"listen 80\b", f"listen 127.0.0.1:{plain}", shipped)
    shipped = re.sub(r"listen 443\b", f"listen 127.0.0.1:{tls}", shipped)
    ours = re.compile(r"^upstream feelerbook \{.*?^\}", re.DOTALL | re.MULTILINE)
    shipped = ours.sub(group, shipped)
    shipped = shipped.replace(f"/etc/ssl/certs/{NAME}.pem", f"{folder}/desk.pem")
    shipped = shipped.replace(f"/etc/ssl/private/{NAME}.key", f"{folder}/desk.key")
    user = "user root;" if hasattr(os, "geteuid") and os.geteuid() == 0 else ""
    # 768 connections is what Debian's own nginx.conf allows.
    return f"""
{user}
daemon off;
pid {folder}/nginx.pid;
worker_processes 1;
events {{ worker_connections 768; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    {shipped}
}}
"""


def make_certificate(folder: Path) -> Path:
    """Make a certificate that is its own authority, for one day."""
    command = ["openssl", "req", "-x509", "-newkey", "ec", "-nodes", "-days", "1"]
    command += ["-pkeyopt", "ec_paramgen_curve:prime256v1", "-subj", f"/CN={NAME}"]
    command += ["-addext", f"subjectAltName=DNS:{NAME}"]
    command += ["-keyout", str(folder / "desk.key"), "-out", str(folder / "desk.pem")]
    subprocess.run(command, check=True, capture_output=True)
    return folder / "desk.pem"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for_port(port: int, process: "subprocess.Popen[bytes]") -> None:
    deadline = time.monotonic() + START_WITHIN_S
    while time.monotonic() < deadline and process.poll() is None:
        with contextlib.suppress(OSError):
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return
        time.sleep(0.1)
    msg = f"Nothing listens on port {port}."
    raise AssertionError(msg)


def shared_environment(
    folder: Path, database: str = "postgresql:///never-opened"
) -> dict[str, str]:
    """Give what the shared settings ask of the environment."""
    return {
        "FEELERBOOK_STATIC": str(folder / "static"),
        "DJANGO_SETTINGS_MODULE": "deploy.settings.shared",
        "FEELERBOOK_SECRET_KEY": "only-tests-use-this-key-" + "0123456789" * 4,
        "FEELERBOOK_HOSTS": NAME,
        "DATABASE_URL": database,
    }
