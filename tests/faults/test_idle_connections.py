"""
Connections that do nothing, and senders that dawdle, keep nobody else waiting.

300 idle sockets, 50 who send a request a byte at a time, and 20 uploads that stop
half way: a page that asks nothing of the database comes as before.
"""

import contextlib
import socket
import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Event, Thread

from tests.deploy.servers import (
    SERVE,
    Door,
    gunicorn,
    nginx,
    running,
    shared_environment,
)

IDLE, SLOW, HALF_OPEN = 300, 50, 20
VISITS = 15
ROUNDS = 3
UPLOAD = 2_000_000
# Below this nobody notices, whatever the ratio: two cores are shared with others.
UNNOTICED_S = 0.1


@contextlib.contextmanager
def crowd(door: Door) -> Iterator[None]:
    """Hold the connections open while the block runs."""
    plain = Door(port=door.port)
    with contextlib.ExitStack() as stack:
        for _ in range(IDLE):
            stack.enter_context(contextlib.closing(plain.connect()))
        uploads = [door.connect() for _ in range(HALF_OPEN)]
        senders = [door.connect() for _ in range(SLOW)]
        for line in (*uploads, *senders):
            stack.enter_context(contextlib.closing(line))
        for line in uploads:
            line.sendall(upload_head(door) + b"x" * (UPLOAD // 2))
        ended = Event()
        dawdler = Thread(target=send_slowly, args=(senders, door, ended))
        dawdler.start()
        try:
            yield
        finally:
            ended.set()
            dawdler.join(timeout=30)


def upload_head(door: Door) -> bytes:
    return (
        f"POST /sign-in HTTP/1.1\r\nHost: {door.host}\r\n"
        "Content-Type: multipart/form-data; boundary=b\r\n"
        f"Content-Length: {UPLOAD}\r\n\r\n"
    ).encode()


def send_slowly(lines: list[socket.socket], door: Door, ended: Event) -> None:
    """Send a request on each line, a byte a round."""
    request = f"GET /live HTTP/1.1\r\nHost: {door.host}\r\nX-Slow: {'x' * 200}".encode()
    for byte in request:
        for line in lines:
            with contextlib.suppress(OSError):
                line.sendall(bytes([byte]))
        if ended.wait(0.2):
            return


def visit(door: Door) -> float:
    """Ask for ``/live`` on a line of its own; return how long the answer took."""
    begun = time.monotonic()
    head = f"Host: {door.host}\r\nConnection: close"
    with door.connect(timeout=10) as line:
        line.sendall(f"GET /live HTTP/1.1\r\n{head}\r\n\r\n".encode())
        answer = b"".join(iter(lambda: line.recv(4096), b""))
    assert answer.startswith(b"HTTP/1.1 200"), answer
    assert answer.endswith(b"live\n"), answer
    return time.monotonic() - begun


def usual(door: Door) -> float:
    return statistics.median(visit(door) for _ in range(VISITS))


def assert_nobody_waits(door: Door) -> None:
    usual(door)
    before = usual(door)
    ratios = []
    for _ in range(ROUNDS):
        with crowd(door):
            usual(door)  # until all of the crowd is inside
            during = usual(door)
        ratios.append(during / before)
        if during < max(3 * before, UNNOTICED_S):
            break
    print(f"/live with a crowd, in times of its usual: {ratios}")  # noqa: T201
    assert during < max(3 * before, UNNOTICED_S), ratios


def test_a_crowd_keeps_nobody_waiting_on_the_local_server(tmp_path: Path) -> None:
    words = [*SERVE, "--port=0", f"--data={tmp_path}", "--no-demo"]
    with running(*words) as (_, address, _lines):
        port = int(address.rstrip("/").rpartition(":")[2])
        assert_nobody_waits(Door(port=port, host="127.0.0.1"))


def test_a_crowd_keeps_nobody_waiting_on_the_shared_server(tmp_path: Path) -> None:
    with (
        gunicorn(tmp_path, shared_environment(tmp_path)) as (_, behind),
        nginx(tmp_path, behind=behind) as (_, door),
    ):
        assert_nobody_waits(door)
