"""
Let an entry have one open sheet: none of its others without a seal or a void.

On PostgreSQL the entry's row is locked first, so that two at once see each other; on
SQLite one writes at a time.
"""

from django.db import migrations

from inventory.migrations._refusals import RefuseWrites

_TABLE = "inspection_sheet"


class Migration(migrations.Migration):
    dependencies = [("inspection", "0037_who_says_what_a_car_is")]

    operations = [
        RefuseWrites(
            _TABLE,
            name="open",
            message=f"{_TABLE}: the entry has an open sheet already",
            insert=f"EXISTS (SELECT 1 FROM {_TABLE} s "
            "WHERE s.entry_id = NEW.entry_id "
            "AND NOT EXISTS (SELECT 1 FROM inspection_seal WHERE sheet_id = s.id) "
            "AND NOT EXISTS (SELECT 1 FROM inspection_sheetvoid WHERE sheet_id = s.id))",
            waits_for="SELECT 1 FROM inspection_entry "
            "WHERE id = NEW.entry_id FOR UPDATE",
        ),
    ]
