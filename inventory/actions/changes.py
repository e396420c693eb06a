"""
The feed of changes: each audit row gets a number when it is first seen.

On PostgreSQL rows are committed in another order than their keys were given in; a
reader that went by the key would pass over one that is still under way.  So a number
is given here to rows that are committed, by one reader at a time: numbers come to be
in their order, and whoever has read up to one has missed none below it.
"""

import datetime as dt
from typing import Final

from django.db import connection, transaction

#: No transaction is under way for so long: below what was numbered before, nothing
#: is left to be seen.
SETTLED_AFTER: Final = dt.timedelta(days=1)

_UNSEEN: Final = """
    FROM inventory_auditrow a
    WHERE a.id > COALESCE(
        (SELECT MAX(row_id) FROM inventory_changenumber WHERE at < %s), 0
    )
    AND NOT EXISTS (SELECT 1 FROM inventory_changenumber n WHERE n.row_id = a.id)
"""


def number_changes(*, at: dt.datetime) -> None:
    """
    Give a number to each audit row that was committed and has none.

    Writes ChangeNumbers, where there is something new; no audit row, it says nothing
    that is not said.
    """
    floor = at - SETTLED_AFTER
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT 1 {_UNSEEN} LIMIT 1", [floor])
        if cursor.fetchone() is None:
            return
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # One numbers at a time; whoever reads or writes elsewhere waits for none.
            cursor.execute(
                "LOCK TABLE inventory_changenumber IN SHARE ROW EXCLUSIVE MODE"
            )
        cursor.execute(
            "INSERT INTO inventory_changenumber (row_id, at) "
            f"SELECT a.id, %s {_UNSEEN} ORDER BY a.id",
            [at, floor],
        )
