"""Let the database refuse to change what was recorded."""

from django.db import migrations

from inventory.migrations._refusals import RefuseWrites, append_only


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_initial")]

    operations = [
        append_only("inventory_auditrow"),
        append_only("inventory_gaugecheck"),
        append_only("inventory_partmove"),
        append_only("inventory_partreading", unique=["reading_id"]),
        RefuseWrites(
            "inventory_partestimate",
            message="inventory_partestimate: an estimate is only ever superseded",
            update="OLD.superseded_at IS NOT NULL OR NEW.value <> OLD.value "
            "OR NEW.random <> OLD.random OR NEW.systematic <> OLD.systematic",
            delete="TRUE",
        ),
    ]
