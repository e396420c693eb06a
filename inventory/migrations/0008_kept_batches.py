"""Let the database refuse to change what came in, was said, or was a pair."""

from django.db import migrations

from inventory.migrations._refusals import RefuseWrites, append_only


class Migration(migrations.Migration):
    dependencies = [("inventory", "0007_crown_cut_for")]

    operations = [
        append_only("inventory_batch", unique=["digest"]),
        RefuseWrites(
            "inventory_batchpart",
            message="inventory_batchpart: rows are never changed",
            update="TRUE",
            delete="TRUE",
            replace="EXISTS (SELECT 1 FROM inventory_batchpart WHERE id = NEW.id "
            "OR (batch_id = NEW.batch_id AND part_id = NEW.part_id))",
        ),
        RefuseWrites(
            "inventory_partestimate",
            name="same",
            message="inventory_partestimate: an estimate is only ever superseded",
            update="NEW.id <> OLD.id OR NEW.part_id <> OLD.part_id "
            "OR NEW.quantity <> OLD.quantity OR NEW.count <> OLD.count "
            "OR NEW.taken_at <> OLD.taken_at OR NEW.by_id <> OLD.by_id",
            replace="EXISTS (SELECT 1 FROM inventory_partestimate WHERE id = NEW.id "
            "OR (part_id = NEW.part_id AND quantity = NEW.quantity "
            "AND superseded_at IS NULL AND NEW.superseded_at IS NULL))",
        ),
        RefuseWrites(
            "inventory_partset",
            message="inventory_partset: a set is only ever ended, once",
            update="OLD.ended_at IS NOT NULL OR NEW.id <> OLD.id "
            "OR NEW.tag <> OLD.tag OR NEW.kind <> OLD.kind "
            "OR NEW.pairing_id <> OLD.pairing_id OR NEW.spread <> OLD.spread",
            delete="TRUE",
            replace="EXISTS (SELECT 1 FROM inventory_partset "
            "WHERE id = NEW.id OR tag = NEW.tag)",
        ),
        RefuseWrites(
            "inventory_setmember",
            message="inventory_setmember: a set is only ever ended, once",
            update="OLD.ended_at IS NOT NULL OR NEW.id <> OLD.id "
            "OR NEW.part_set_id <> OLD.part_set_id OR NEW.part_id <> OLD.part_id "
            "OR NEW.position <> OLD.position",
            delete="TRUE",
            replace="EXISTS (SELECT 1 FROM inventory_setmember WHERE id = NEW.id "
            "OR (part_set_id = NEW.part_set_id AND position = NEW.position) "
            "OR (part_id = NEW.part_id AND ended_at IS NULL "
            "AND NEW.ended_at IS NULL))",
        ),
    ]
