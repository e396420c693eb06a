"""
The database is stopped, or hangs: a clear answer in time, and work again after it.

Against the server as it is installed, which reaches PostgreSQL by a socket or by
address.  A page says 503 within two seconds, ``/ready`` within five; ``/live``
goes on, because the process lives.
"""

import http.client
import time
from collections.abc import Callable, Iterator
from typing import NamedTuple

import pytest

from tests.deploy.servers import NAME, gunicorn, manage, shared_environment
from tests.faults.database_server import DatabaseServer, database_server

PAGE_WITHIN_S, READY_WITHIN_S = 2.0, 5.0
BACK_WITHIN_S = 20.0
#: A timing on cores that others use is tried again before it counts.
TRIES = 3


class Answer(NamedTuple):
    status: int
    again_after: str | None
    text: str
    took_s: float


@pytest.fixture(scope="module")
def database() -> Iterator[DatabaseServer]:
    with database_server() as server:
        yield server


@pytest.fixture(
    scope="module",
    params=["by_address", pytest.param("by_socket", marks=pytest.mark.long)],
)
def ask(
    request: pytest.FixtureRequest,
    database: DatabaseServer,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Callable[[str], Answer]]:
    """Yield a function that asks the server for a page."""
    folder = tmp_path_factory.mktemp("shared")
    environment = shared_environment(folder, getattr(database, request.param))
    manage(environment, "migrate", "--no-input")
    manage(environment, "collectstatic", "--no-input")
    with gunicorn(folder, environment) as (_, port):

        def asked(path: str) -> Answer:
            begun = time.monotonic()
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            line.request(
                "GET", path, headers={"Host": NAME, "X-Forwarded-Proto": "https"}
            )
            found = line.getresponse()
            text = found.read().decode()
            line.close()
            again = found.getheader("Retry-After")
            return Answer(found.status, again, text, time.monotonic() - begun)

        yield asked


def wait_until_it_works(ask: Callable[[str], Answer]) -> None:
    deadline = time.monotonic() + BACK_WITHIN_S
    while ask("/ready").status != 200 or ask("/sign-in").status != 200:
        assert time.monotonic() < deadline
        time.sleep(0.2)


def assert_said_in_time(ask: Callable[[str], Answer]) -> None:
    for path, within_s in (("/sign-in", PAGE_WITHIN_S), ("/ready", READY_WITHIN_S)):
        answers = []
        for _ in range(TRIES):
            answers.append(ask(path))
            if answers[-1].took_s < within_s:
                break
        print(path, [round(answer.took_s, 2) for answer in answers])  # noqa: T201
        assert {answer.status for answer in answers} == {503}, answers
        assert answers[-1].took_s < within_s, answers
    assert ask("/live").status == 200


def test_a_stopped_database_is_said_in_time_and_forgotten_when_it_is_back(
    ask: Callable[[str], Answer], database: DatabaseServer
) -> None:
    wait_until_it_works(ask)
    database.stop()
    try:
        page = ask("/sign-in")
        assert (page.status, page.again_after) == (503, "5")
        assert "The database does not answer" in page.text
        assert_said_in_time(ask)
    finally:
        database.start()
    wait_until_it_works(ask)


def test_a_database_that_hangs_is_said_in_time(
    ask: Callable[[str], Answer], database: DatabaseServer
) -> None:
    wait_until_it_works(ask)
    with database.hanging():
        assert_said_in_time(ask)
    wait_until_it_works(ask)
