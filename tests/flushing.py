"""
Emptying the tables between two tests that really commit.

Triggers refuse to delete what was recorded, published or sealed, and rightly do
so to the test runner as well.  Here, and nowhere else, they stand aside.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction


def let_the_runner_flush() -> None:
    """Make Django's own flush step past the triggers, for this process."""
    operations = type(connection.ops)
    flush = operations.execute_sql_flush

    def execute_sql_flush(self: Any, sql_list: Iterable[str]) -> None:
        with transaction.atomic(), without_triggers(connection.vendor):
            flush(self, sql_list)

    operations.execute_sql_flush = execute_sql_flush  # type: ignore[method-assign]


@contextmanager
def without_triggers(vendor: str) -> Iterator[None]:
    with connection.cursor() as cursor:
        if vendor == "postgresql":
            # The superuser of the throwaway server may; the service's user may not.
            cursor.execute("SET LOCAL session_replication_role = replica")
            yield
            return
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        triggers = cursor.fetchall()
        for name, _ in triggers:
            cursor.execute(f"DROP TRIGGER {name}")
        yield
        for _, sql in triggers:
            cursor.execute(sql)
