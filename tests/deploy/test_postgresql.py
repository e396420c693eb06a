"""Connections to PostgreSQL: pooled, tried before use, none waits for ever."""

from collections.abc import Iterator

import pytest
from django.db import connection
from django.db.backends.postgresql.base import DatabaseWrapper

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db]


@pytest.fixture
def other(transactional_db: None) -> Iterator[DatabaseWrapper]:
    """Yield a second pool on the same database, as another worker has."""
    wrapper = DatabaseWrapper(dict(connection.settings_dict), alias="other")
    yield wrapper
    wrapper.close()
    wrapper.close_pool()


def answer(database: DatabaseWrapper, question: str) -> str | int:
    with database.cursor() as cursor:
        cursor.execute(question)
        value: str | int = cursor.fetchone()[0]
    return value


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("jit", "off"),
        ("statement_timeout", "10s"),
        ("lock_timeout", "3s"),
        ("idle_in_transaction_session_timeout", "30s"),
        ("synchronous_commit", "on"),
    ],
)
def test_every_connection_has_its_limits(
    other: DatabaseWrapper, name: str, value: str
) -> None:
    assert answer(other, f"SHOW {name}") == value


def lent(other: DatabaseWrapper, *, times: int) -> set[str | int]:
    """Borrow a connection and give it back so often; return which they were."""
    found = set()
    for _ in range(times):
        found.add(answer(other, "SELECT pg_backend_pid()"))
        other.close()
    return found


def test_a_connection_goes_back_to_the_pool_and_comes_again(
    other: DatabaseWrapper,
) -> None:
    # Two at most: one of the pool's own, one made for the first who asked.
    assert len(lent(other, times=6)) <= 2


def test_dead_connections_of_the_pool_are_not_handed_out(
    other: DatabaseWrapper,
) -> None:
    dead = lent(other, times=6)
    with connection.cursor() as cursor:
        for number in dead:
            cursor.execute("SELECT pg_terminate_backend(%s)", [number])
    assert not dead & lent(other, times=6)
