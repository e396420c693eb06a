"""What the database knows of its own tables when it plans a query."""

from django.db import connection, models


def count_anew(*tables: type[models.Model]) -> None:
    """
    Let PostgreSQL look at tables that have grown at one go.

    It plans by the last look it took, and takes the next within a minute or so: a
    bag of five thousand tyres paired at once was planned as one of three, and
    stopped by the statement timeout.  SQLite looks when a night closes.
    """
    if connection.vendor != "postgresql":
        return
    quoted = ", ".join(connection.ops.quote_name(one._meta.db_table) for one in tables)
    with connection.cursor() as cursor:
        cursor.execute(f"ANALYZE {quoted}")


def look_at_tables() -> None:
    """
    Let SQLite look at the tables that a night has made larger.

    It has no process of its own that would; some rows of each index are enough, and
    take milliseconds.  PostgreSQL looks by itself, within a minute or so.
    """
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA analysis_limit=400")
        cursor.execute("PRAGMA optimize")
