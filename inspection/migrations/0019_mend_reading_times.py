"""
Give readings that no page can show a time that can be read: when they were received.

A device whose clock stood at the year 1 or 9999 made its sheet unreadable.  What it
said is kept beside; nothing else of the reading is touched.  The triggers that keep
readings stand aside for this one statement.
"""

from django.db import migrations

from inventory.migrations._refusals import append_only

_TABLE = "inspection_sheetreading"
_KEPT = append_only(_TABLE, unique=["reading_id"])
_MEND = f"""
    UPDATE {_TABLE}
    SET clock_said = SUBSTR(CAST(taken_at AS TEXT), 1, 40), taken_at = received_at
    WHERE taken_at < '1900-01-01' OR taken_at >= '2200-01-01'
"""


def mend(apps, schema_editor):
    state = apps, apps
    _KEPT.database_backwards("inspection", schema_editor, *state)
    schema_editor.execute(_MEND, params=None)
    _KEPT.database_forwards("inspection", schema_editor, *state)


class Migration(migrations.Migration):
    dependencies = [("inspection", "0018_clock_said")]

    # Backwards there is nothing to do: a time that can be read stays.
    operations = [migrations.RunPython(mend, migrations.RunPython.noop)]
