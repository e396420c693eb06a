"""
Let a sheet's number be longer than sixteen letters.

From the club's thousandth night on it is; SQLite never held to the length, and
making the table anew there would drop its triggers.
"""

from django.db import migrations, models


def widen(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "ALTER TABLE inspection_sheet ALTER COLUMN number TYPE varchar(32)"
        )


class Migration(migrations.Migration):
    dependencies = [("inspection", "0032_lists")]

    operations = [
        migrations.SeparateDatabaseAndState(
            database_operations=[
                migrations.RunPython(widen, migrations.RunPython.noop)
            ],
            state_operations=[
                migrations.AlterField(
                    "sheet", "number", models.CharField(max_length=32, unique=True)
                )
            ],
        )
    ]
