"""Reading many tables as they were at one moment, and texts that are none."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection


@contextmanager
def seen_at_one_moment() -> Iterator[None]:
    """
    Read what stands here together, without keeping anybody from writing.

    A seal that is put between two queries would look like a difference.  Inside a
    transaction all is left as it is.
    """
    if connection.in_atomic_block:
        with _texts_as_they_are():
            yield
        return
    is_sqlite = connection.vendor == "sqlite"
    begin = "BEGIN" if is_sqlite else "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    with connection.cursor() as cursor:
        cursor.execute(begin)
        try:
            with _texts_as_they_are():
                yield
        finally:
            cursor.execute("ROLLBACK")


@contextmanager
def _texts_as_they_are() -> Iterator[None]:
    """Let SQLite give bytes that are no text, of which one would hide all the rest."""
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    database = connection.connection
    database.text_factory = _text
    try:
        yield
    finally:
        database.text_factory = str


def _text(stored: bytes) -> str:
    return stored.decode(errors="surrogateescape")
