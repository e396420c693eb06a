"""
Guard a car's values again where the guard was lost.

Adding who had said a value copied the table on SQLite, and with the old one went the
triggers that let a value only be superseded.
"""

from django.db import migrations

from inventory.migrations._refusals import RefuseWrites


class PutBackWhereLost(RefuseWrites):
    """Refuse the writes on SQLite, where a trigger of that name is not there."""

    def database_forwards(self, app_label, schema_editor, from_state, to_state):
        if schema_editor.connection.vendor != "sqlite":
            return
        for event, condition in self._conditions("sqlite").items():
            statement = self._sqlite(event, condition)
            wanted = statement.replace("CREATE TRIGGER", "CREATE TRIGGER IF NOT EXISTS")
            schema_editor.execute(wanted, params=None)

    def database_backwards(self, app_label, schema_editor, from_state, to_state):
        """Lost they should never have been."""


class Migration(migrations.Migration):
    dependencies = [("inspection", "0034_caliper_boxes")]

    operations = [
        PutBackWhereLost(
            "inspection_carvalue",
            message="inspection_carvalue: a value is only ever superseded",
            update="OLD.superseded_at IS NOT NULL OR NEW.value <> OLD.value",
            delete="TRUE",
        )
    ]
