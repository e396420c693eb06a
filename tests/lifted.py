"""Doing what only somebody with the database's own key can do."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, models

from tests.flushing import without_triggers


@contextmanager
def guards_lifted(*tables: type[models.Model]) -> Iterator[None]:
    """
    Drop the triggers of tables; put them back at the end.

    On PostgreSQL the transaction's triggers are set aside instead.
    """
    names = [table._meta.db_table for table in tables]
    with connection.cursor() as cursor, without_triggers(cursor, names):
        yield
