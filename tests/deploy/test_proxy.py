"""The shared installation as it is shipped: gunicorn behind nginx."""

import gzip
import http.client
import os
import re
import ssl
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.deploy.servers import (
    NAME,
    SERVE,
    Door,
    gunicorn,
    manage,
    nginx,
    running,
    shared_environment,
)

pytestmark = pytest.mark.skipif(os.name == "nt", reason="gunicorn has no Windows")


@pytest.fixture(scope="module")
def doors(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, int, Door]]:
    """Yield the port of gunicorn, the plain port of nginx and its door."""
    folder = tmp_path_factory.mktemp("shared")
    environment = shared_environment(folder)
    manage(environment, "collectstatic", "--no-input")
    with (
        gunicorn(folder, environment) as (_, behind),
        nginx(folder, behind=behind) as (plain, door),
    ):
        yield behind, plain, door


def said(door: Door, host: str, path: str = "/live") -> bytes:
    """Return all that comes back for one request under this name."""
    with door.connect(timeout=20) as line:
        head = f"GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        line.sendall(head.encode())
        return b"".join(iter(lambda: line.recv(4096), b""))


def test_the_desk_answers_under_its_own_name(doors: tuple[int, int, Door]) -> None:
    _, plain, door = doors
    assert said(door, NAME).endswith(b"live\n")
    moved = said(Door(port=plain), NAME, "/sign-in")
    assert moved.startswith(b"HTTP/1.1 301")
    assert f"Location: https://{NAME}/sign-in".encode() in moved


@pytest.mark.parametrize("host", ["127.0.0.1", "elsewhere.example", ""])
def test_an_unknown_name_gets_no_answer(
    doors: tuple[int, int, Door], host: str
) -> None:
    _, plain, door = doors
    # Of no name at all nginx itself says that HTTP wants one.
    refused = b"" if host else b"HTTP/1.1 400 Bad Request"
    for line in (Door(port=plain), door):
        answer = said(line, host)
        assert answer.startswith(refused)
        assert not host or not answer


def test_an_unknown_name_gets_no_certificate(doors: tuple[int, int, Door]) -> None:
    _, _, door = doors
    anything = ssl.create_default_context()
    anything.check_hostname = False
    anything.verify_mode = ssl.CERT_NONE
    other = Door(port=door.port, host="elsewhere.example", tls=anything)
    with pytest.raises(ssl.SSLError, match="UNRECOGNIZED_NAME"):
        other.connect()


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8000", "[::1]", "10.0.0.7", "desk.example"]
)
def test_health_is_told_under_any_name_on_the_machine_itself(
    doors: tuple[int, int, Door], host: str
) -> None:
    behind, _, _ = doors
    assert said(Door(port=behind), host).startswith(b"HTTP/1.1 200")
    begun = time.monotonic()
    # Its database is none: not ready, and said in time.
    assert said(Door(port=behind), host, "/ready").startswith(b"HTTP/1.1 503")
    assert time.monotonic() - begun < 5
    page = said(Door(port=behind), "elsewhere.example", "/sign-in")
    # 400 where there is a database, whose club the page names.
    assert page.startswith((b"HTTP/1.1 400", b"HTTP/1.1 503"))


def test_pages_come_packed_and_their_length_tells_nothing(tmp_path: Path) -> None:
    words = [*SERVE, "--port=0", f"--data={tmp_path}", "--no-demo"]
    with running(*words) as (_, address, _lines):
        answers = [packed(f"{address}sign-in") for _ in range(12)]
    pages = [gzip.decompress(body).decode() for _, body in answers]
    assert {headers["Content-Encoding"] for headers, _ in answers} == {"gzip"}
    assert all("Accept-Encoding" in headers["Vary"] for headers, _ in answers)
    assert all(
        len(body) < len(page.encode()) / 2
        for (_, body), page in zip(answers, pages, strict=True)
    )
    # Against a compression oracle: neither the token nor the length is the same twice.
    tokens = {
        re.findall(r'name="csrfmiddlewaretoken" value="(\w+)"', page)[0]
        for page in pages
    }
    assert len(tokens) == len(pages)
    assert len({len(body) for _, body in answers}) > 3


def packed(address: str) -> tuple[http.client.HTTPMessage, bytes]:
    request = urllib.request.Request(  # noqa: S310
        address, headers={"Accept-Encoding": "gzip"}
    )
    with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310
        return answer.headers, answer.read()
