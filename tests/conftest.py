"""What every test may use: profiles, the database of the run, clients, query growth."""

import math
import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings as django_settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import settings

from inventory.loaders.clocks import KeptZone, forget_zone
from inventory.models import Person
from tests.flushing import let_the_runner_flush
from tests.numbering import number_from_one

settings.register_profile("ci", derandomize=True, deadline=None, database=None)
settings.register_profile("dev", deadline=None)
settings.load_profile(os.environ.get("FEELERBOOK_HYPOTHESIS", "dev"))

pytest_plugins = ["tests.left_to_long"]

ON_POSTGRESQL = bool(os.environ.get("FEELERBOOK_TEST_DATABASE"))
PASSWORD = "four quiet wheels turn"
DATABASE_FIXTURES = frozenset({"db", "transactional_db", "live_server"})

# Tests that may skip, each with the reason; deploy/test.py fails on any other.
NAMED_SKIPS: dict[str, str] = {
    f"tests/faults/test_full_disk.py::{name}": "no leave to mount a small disk"
    for name in (
        "test_a_full_disk_is_said_and_what_was_acknowledged_is_there",
        "test_a_start_on_a_full_disk_says_so_and_starts_once_there_is_room[0]",
        "test_a_start_on_a_full_disk_says_so_and_starts_once_there_is_room[1]",
    )
}


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("feelerbook")
    group.addoption(
        "--database-only",
        action="store_true",
        help="run the tests that touch the database, and no others",
    )
    group.addoption(
        "--no-unnamed-skips",
        action="store_true",
        help="fail if a test is skipped that tests/conftest.py does not name",
    )


def pytest_collection_modifyitems(
    config: pytest.Config, items: list[pytest.Item]
) -> None:
    other = "sqlite" if ON_POSTGRESQL else "postgresql"
    database_only = config.getoption("--database-only")
    kept: list[pytest.Item] = []
    left_out: list[pytest.Item] = []
    for item in items:
        wanted = touches_database(item) or not database_only
        fits = wanted and not item.get_closest_marker(other)
        (kept if fits else left_out).append(item)
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = kept


def touches_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    is_marked = item.get_closest_marker("django_db") is not None
    return is_marked or not DATABASE_FIXTURES.isdisjoint(fixtures)


class SkipKeeper:
    """Remember what was skipped, and fail the run for what has no name."""

    def __init__(self) -> None:
        self.unnamed: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.skipped and report.nodeid not in NAMED_SKIPS:
            self.unnamed.append(report.nodeid)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.skipped:
            self.unnamed.append(report.nodeid)

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.unnamed and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: Any) -> None:
        for nodeid in self.unnamed:
            terminalreporter.write_line(f"SKIPPED WITHOUT A NAME: {nodeid}", red=True)


def pytest_configure(config: pytest.Config) -> None:
    let_the_runner_flush()
    if config.getoption("--no-unnamed-skips"):
        config.pluginmanager.register(SkipKeeper(), "skip-keeper")


@pytest.fixture
def person(db: None) -> Person:
    """Return a member without roles; the password is ``PASSWORD``."""
    return rosa()


@pytest.fixture(autouse=True)
def usual_clock() -> Iterator[None]:
    """Let each test begin by the installation's clock, kept however long it takes."""
    KeptZone.now = KeptZone(ZoneInfo(django_settings.TIME_ZONE), math.inf)
    yield
    forget_zone()


@pytest.fixture(autouse=True)
def numbers_from_one() -> None:
    """Let each test number what it makes from one, whatever tests ran before it."""
    number_from_one()


@pytest.fixture
def transactional_person(transactional_db: None) -> Person:
    """Return the same, where another thread serves the pages."""
    return rosa()


def rosa() -> Person:
    member = Person(
        sign_in_name="rosa", name="Rosa Ivey", joined_at=datetime.now(tz=UTC)
    )
    member.set_password(PASSWORD)
    member.save()
    return member


@pytest.fixture
def client_of(db: None) -> Callable[[Any], Client]:
    """Return a function that gives the browser of a person who has signed in."""

    def signed_in(person: Any) -> Client:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return signed_in


QueryGrowth = Callable[..., list[str]]


@pytest.fixture
def same_queries(db: None) -> QueryGrowth:
    """
    Return a check that a page asks the same of the database at 3 and at 30 rows.

    ``same_queries(visit, add_rows, at_most=12)`` calls ``add_rows(3)``, visits,
    calls ``add_rows(27)``, visits again, and shows both lists where they differ.
    """

    def check(
        visit: Callable[[], object],
        add_rows: Callable[[int], object],
        *,
        at_most: int | None = None,
    ) -> list[str]:
        add_rows(3)
        few = queries_of(visit)
        add_rows(27)
        many = queries_of(visit)
        assert len(few) == len(many), differing(few, many)
        assert at_most is None or len(many) <= at_most, listed(many)
        return many

    return check


def queries_of(visit: Callable[[], object]) -> list[str]:
    """Return the statements that one visit sends to the database."""
    with CaptureQueriesContext(connection) as context:
        visit()
    return [query["sql"] for query in context.captured_queries]


def differing(few: list[str], many: list[str]) -> str:
    return f"at 3 rows {listed(few)}\nat 30 rows {listed(many)}"


def listed(statements: list[str]) -> str:
    lines = "\n".join(f"  {n}. {sql}" for n, sql in enumerate(statements, 1))
    return f"{len(statements)} queries:\n{lines}"
