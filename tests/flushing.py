"""
Emptying the tables between two tests that really commit.

Triggers refuse to delete what was recorded, published or sealed, and rightly do
so to the test runner as well.  Here, and nowhere else, they stand aside.

Of a hundred tables a test fills ten: those alone are emptied.  What Django writes
itself after migrating, kinds of content and permissions, stays as it is.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connections, transaction
from django.test import TransactionTestCase

WRITTEN_BY_MIGRATING = frozenset(
    {"auth_permission", "django_content_type", "django_migrations"}
)


def let_the_runner_flush() -> None:
    """Empty what a test has filled, past the triggers, for this process."""

    def _fixture_teardown(self: Any) -> None:
        for name in self._databases_names(include_mirrors=False):
            empty(connections[name])

    TransactionTestCase._fixture_teardown = _fixture_teardown  # type: ignore[attr-defined]


def empty(connection: Any) -> None:
    tables = set(connection.introspection.table_names()) - WRITTEN_BY_MIGRATING
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        asked = (
            f"SELECT '{table}' WHERE EXISTS (SELECT 1 FROM \"{table}\")"
            for table in sorted(tables)
        )
        cursor.execute(" UNION ALL ".join(asked))
        filled = [name for (name,) in cursor.fetchall()]
        with without_triggers(cursor, filled):
            for table in filled:
                cursor.execute(f'DELETE FROM "{table}"')


@contextmanager
def without_triggers(cursor: Any, tables: Iterable[str]) -> Iterator[None]:
    if cursor.db.vendor == "postgresql":
        # The superuser of the throwaway server may; the service's user may not.
        cursor.execute("SET LOCAL session_replication_role = replica")
        yield
        cursor.execute("SET LOCAL session_replication_role = origin")
        return
    cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type='trigger'")
    emptied = set(tables)
    triggers = [(name, sql) for name, of, sql in cursor.fetchall() if of in emptied]
    for name, _ in triggers:
        cursor.execute(f"DROP TRIGGER {name}")
    yield
    for _, sql in triggers:
        cursor.execute(sql)
