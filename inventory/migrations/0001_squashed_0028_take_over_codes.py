"""Make all tables of a new installation in one step; older ones go their own way."""

from django.db import migrations

from inventory.migrations._at_once import MakeAtOnce, dependencies_outside, replaced

PACKAGE = "inventory.migrations"
NAMES = [
    "0001_initial",
    "0002_kept_rows",
    "0003_part_holder",
    "0004_club",
    "0005_batches_and_pairs",
    "0006_kept_draws",
    "0007_crown_cut_for",
    "0008_kept_batches",
    "0009_guides",
    "0010_beginning",
    "0011_history_indexes",
    "0012_club_settings",
    "0013_table_shapes",
    "0014_hashed_audit_rows",
    "0015_batch_content",
    "0016_with_a_member",
    "0017_handed_out_or_fitted",
    "0018_part_states_are_known",
    "0019_families",
    "0020_corrections",
    "0021_drawers_before_pairs",
    "0022_stocktakes",
    "0023_plain_sign_in_names",
    "0024_handed_links",
    "0025_look_up_beginnings",
    "0026_shared_parts",
    "0027_club_ways",
    "0028_take_over_codes",
]


class Migration(migrations.Migration):
    initial = True
    replaces = replaced("inventory", NAMES)
    dependencies = dependencies_outside(PACKAGE, NAMES)
    operations = [MakeAtOnce(PACKAGE, NAMES)]
