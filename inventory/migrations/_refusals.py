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

from django.db.migrations.operations import SeparateDatabaseAndState
from django.db.migrations.operations.base import Operation


class RefuseWrites(Operation):
    """
    Refuse UPDATE, DELETE and INSERT on a table where a condition holds.

    ``waits_for`` locks rows on PostgreSQL before the condition is looked at, where
    others may be writing what it asks for.
    """

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
        waits_for: str = "",
        name: str = "kept",
    ) -> None:
        self.table, self.message, self.name = table, message, name
        self.update, self.delete, self.insert = update, delete, insert
        self.replace, self.waits_for = replace, waits_for

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
        # PERFORM runs a SELECT whose rows nobody wants.
        first = f"{self.waits_for.replace('SELECT', 'PERFORM', 1)}; "
        first = first if self.waits_for else ""
        back = {"DELETE": "OLD", "TRUNCATE": "NULL"}.get(event, "NEW")
        return [
            f"CREATE FUNCTION {self._function(event)}() RETURNS trigger "
            f"LANGUAGE plpgsql AS $$ BEGIN {first}IF {condition} THEN "
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


class ChangeKept(SeparateDatabaseAndState):
    """
    Change tables whose rows are kept, and keep the triggers.

    SQLite cannot change a constraint: Django copies the table, and the triggers go
    with the one that it drops.  A trigger of another table that looks into it would
    stop the copying, so all stand aside and are put back as they were.
    """

    def __init__(self, operations: Sequence[Operation]) -> None:
        super().__init__(database_operations=operations, state_operations=operations)

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return type(self).__name__, [], {"operations": self.database_operations}

    def describe(self) -> str:
        return "Change kept tables: " + "; ".join(
            operation.describe() for operation in self.database_operations
        )

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        before = _taken_away(schema_editor)
        super().database_forwards(app_label, schema_editor, from_state, to_state)
        _put_back(before, schema_editor)

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        before = _taken_away(schema_editor)
        super().database_backwards(app_label, schema_editor, from_state, to_state)
        _put_back(before, schema_editor)


def _triggers(schema_editor: Any) -> dict[str, str]:
    if schema_editor.connection.vendor != "sqlite":
        return {}
    with schema_editor.connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        return dict(cursor.fetchall())


def _taken_away(schema_editor: Any) -> dict[str, str]:
    before = _triggers(schema_editor)
    for name in before:
        schema_editor.execute(f"DROP TRIGGER {name}", params=None)
    return before


def _put_back(before: dict[str, str], schema_editor: Any) -> None:
    after = _triggers(schema_editor)
    for name, statement in before.items():
        if name not in after:
            schema_editor.execute(statement, params=None)
