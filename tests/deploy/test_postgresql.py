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


def test_a_connection_goes_back_to_the_pool_and_comes_again(
    other: DatabaseWrapper,
) -> None:
    first = answer(other, "SELECT pg_backend_pid()")
    other.close()
    assert answer(other, "SELECT pg_backend_pid()") == first


def test_a_dead_connection_of_the_pool_is_not_handed_out(
    other: DatabaseWrapper,
) -> None:
    dead = answer(other, "SELECT pg_backend_pid()")
    other.close()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_terminate_backend(%s)", [dead])
    assert answer(other, "SELECT pg_backend_pid()") != dead
