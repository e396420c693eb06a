"""
A line to a server that is cut: before it has heard, amid its answer, after it wrote.

What goes over it is passed on as it is, one request a connection.
"""

import contextlib
import enum
import re
import socket
import socketserver
import struct
import threading
from collections.abc import Iterable, Iterator

_LENGTH = re.compile(rb"\r\ncontent-length: *(\d+)", re.IGNORECASE)
_KEPT_OPEN = re.compile(rb"\r\nconnection:[^\r]*", re.IGNORECASE)
WITHIN_S = 60.0


class Cut(enum.Enum):
    """How far a request and its answer come."""

    NOWHERE = "passed on and answered"
    REQUEST = "the server hears nothing"
    BODY = "the server hears the half"
    ANSWER = "the server has written, and nobody hears of it"
    HALF = "the half of the answer comes back"


class CutLine(socketserver.ThreadingTCPServer):
    """Cuts what is posted to an address that ends so, as ``cuts`` say, in turn."""

    daemon_threads = True

    def __init__(self, to: int, *, ending: str, cuts: Iterable[Cut]) -> None:
        super().__init__(("127.0.0.1", 0), _Passing)
        self.to, self.ending, self.cuts = to, ending, iter(cuts)
        self.done: list[Cut] = []
        self._one_at_a_time = threading.Lock()

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    def cut_of(self, request: bytes) -> Cut:
        method, address, _ = request.split(b" ", 2)
        if method != b"POST" or not address.endswith(self.ending.encode()):
            return Cut.NOWHERE
        with self._one_at_a_time:
            self.done.append(next(self.cuts, Cut.NOWHERE))
            return self.done[-1]


class _Passing(socketserver.BaseRequestHandler):
    server: CutLine

    def handle(self) -> None:
        near: socket.socket = self.request
        near.settimeout(WITHIN_S)
        request = whole_request(near)
        if not request:
            return
        cut = self.server.cut_of(request)
        # A server that is down is a line that is gone.
        with contextlib.suppress(OSError):
            answer = b"" if cut is Cut.REQUEST else self.asked(request, cut)
            if cut is Cut.NOWHERE:
                near.sendall(answer)
                return
            if cut is Cut.HALF:
                near.sendall(answer[: len(answer) // 2])
            # A reset, as of a line that is gone: no orderly end.
            near.setsockopt(
                socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0)
            )
            near.close()

    def asked(self, request: bytes, cut: Cut) -> bytes:
        """Ask the server; gives all of its answer, which it has then committed."""
        address = ("127.0.0.1", self.server.to)
        with socket.create_connection(address, timeout=WITHIN_S) as far:
            head, _, body = request.partition(b"\r\n\r\n")
            head = _KEPT_OPEN.sub(b"", head) + b"\r\nConnection: close"
            request = head + b"\r\n\r\n" + body
            if cut is Cut.BODY:
                far.sendall(request[: -len(body) // 2])
                return b""
            far.sendall(request)
            parts = []
            while part := far.recv(65536):
                parts.append(part)
            return b"".join(parts)


def whole_request(line: socket.socket) -> bytes:
    """Read a request to its end; nothing where the other side opened a line only."""
    read = b""
    with contextlib.suppress(OSError):
        while part := line.recv(65536):
            read += part
            head, ended, body = read.partition(b"\r\n\r\n")
            said = _LENGTH.search(head)
            if ended and len(body) >= (int(said[1]) if said else 0):
                return read
    return b""


@contextlib.contextmanager
def cut_line(to: int, *, ending: str, cuts: Iterable[Cut]) -> Iterator[CutLine]:
    with CutLine(to, ending=ending, cuts=cuts) as line:
        thread = threading.Thread(target=line.serve_forever, args=(0.05,))
        thread.start()
        try:
            yield line
        finally:
            line.shutdown()
            thread.join()
