"""
Triggers that refuse a write, for both databases.

A row that must never change is guarded below the ORM: on SQLite by triggers
before UPDATE, DELETE and INSERT (the last because INSERT OR REPLACE deletes
without firing a delete trigger), on PostgreSQL by one function a table and
triggers on rows and on TRUNCATE.  Conditions are SQL that both understand;
``OLD`` and ``NEW`` are the row before and after.
"""

from collections.abc import Sequence
from typing import Any

from django.db.migrations.operations.base import Operation


class RefuseWrites(Operation):
    """Refuse UPDATE, DELETE and INSERT on a table where a condition holds."""

    reversible = True
    reduces_to_sql = True

    def __init__(
        self,
        table: str,
        *,
        message: str,
        update: str = "",
        delete: str = "",
        insert: str = "",
        replace: str = "",
        name: str = "kept",
    ) -> None:
        self.table, self.message, self.name = table, message, name
        self.update, self.delete, self.insert = update, delete, insert
        self.replace = replace

    def state_forwards(self, app_label: str, state: Any) -> None:
        """A trigger is no part of the models' state."""

    def describe(self) -> str:
        return f"Refuse writes on {self.table}: {self.message}"

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        vendor = schema_editor.connection.vendor
        for event, condition in self._conditions(vendor).items():
            if vendor == "sqlite":
                schema_editor.execute(self._sqlite(event, condition), params=None)
                continue
            for statement in self._postgresql(event, condition):
                schema_editor.execute(statement, params=None)

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        vendor = schema_editor.connection.vendor
        for event in self._conditions(vendor):
            drop = f"DROP TRIGGER {self._trigger(event)}"
            if vendor == "sqlite":
                schema_editor.execute(drop, params=None)
                continue
            schema_editor.execute(f"{drop} ON {self.table}", params=None)
            schema_editor.execute(f"DROP FUNCTION {self._function(event)}()", params=None)

    def _conditions(self, vendor: str) -> dict[str, str]:
        conditions = {"UPDATE": self.update, "DELETE": self.delete, "INSERT": self.insert}
        if vendor == "sqlite":
            conditions["INSERT"] = " OR ".join(filter(None, [self.insert, self.replace]))
        elif self.delete:
            conditions["TRUNCATE"] = "TRUE"
        return {event: condition for event, condition in conditions.items() if condition}

    def _trigger(self, event: str) -> str:
        return f"{self.table}_{self.name}_{event.lower()}"

    def _function(self, event: str) -> str:
        return f"{self._trigger(event)}_refused"

    def _sqlite(self, event: str, condition: str) -> str:
        return (
            f"CREATE TRIGGER {self._trigger(event)} BEFORE {event} ON {self.table} "
            f"FOR EACH ROW WHEN {condition} "
            f"BEGIN SELECT RAISE(ABORT, '{self.message}'); END"
        )

    def _postgresql(self, event: str, condition: str) -> list[str]:
        row = "STATEMENT" if event == "TRUNCATE" else "ROW"
        back = {"DELETE": "OLD", "TRUNCATE": "NULL"}.get(event, "NEW")
        return [
            f"CREATE FUNCTION {self._function(event)}() RETURNS trigger "
            f"LANGUAGE plpgsql AS $$ BEGIN IF {condition} THEN "
            f"RAISE EXCEPTION '{self.message}' "
            f"USING ERRCODE = 'integrity_constraint_violation'; END IF; "
            f"RETURN {back}; END $$",
            f"CREATE TRIGGER {self._trigger(event)} BEFORE {event} ON {self.table} "
            f"FOR EACH {row} EXECUTE FUNCTION {self._function(event)}()",
        ]


def append_only(table: str, *, unique: Sequence[str] = ()) -> RefuseWrites:
    """Refuse every change of a row; ``unique`` are columns besides the key."""
    clashes = " OR ".join(f"{column} = NEW.{column}" for column in ["id", *unique])
    return RefuseWrites(
        table,
        message=f"{table}: rows are never changed",
        update="TRUE",
        delete="TRUE",
        replace=f"EXISTS (SELECT 1 FROM {table} WHERE {clashes})",
    )
