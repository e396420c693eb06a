"""Let the database refuse to change what was drawn."""

from django.db import migrations

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):
    dependencies = [("inventory", "0005_batches_and_pairs")]

    operations = [
        append_only("inventory_draw"),
        append_only("inventory_drawlot"),
    ]
