"""Make all tables of a new installation in one step; older ones go their own way."""

from django.db import migrations

from inventory.migrations._at_once import MakeAtOnce, dependencies_outside, replaced

PACKAGE = "inspection.migrations"
NAMES = [
    "0001_initial",
    "0002_kept_rows",
    "0003_seal_inputs",
    "0004_fill_seal_inputs",
    "0005_room_and_jigs",
    "0006_published_names",
    "0007_seal_content",
    "0008_fill_seal_content",
    "0009_seal_without_content",
    "0010_car_tags",
    "0011_fill_car_tags",
    "0012_one_car_a_number",
    "0013_guides",
    "0014_history_indexes",
    "0015_seal_checks",
    "0016_sheet_voids",
    "0017_void_withdrawn_sheets",
    "0018_clock_said",
    "0019_mend_reading_times",
    "0020_reading_time_can_be_read",
    "0021_declared_values",
    "0022_fill_declared_values",
    "0023_sheet_rulings",
    "0024_protests",
    "0025_samples",
    "0026_night_sums",
    "0027_nights_to_live_in",
    "0028_own_cars",
    "0029_night_reports",
    "0030_walls",
    "0031_notes_and_motor_seals",
    "0032_lists",
    "0033_longer_sheet_numbers",
]


class Migration(migrations.Migration):
    initial = True
    replaces = replaced("inspection", NAMES)
    dependencies = dependencies_outside(PACKAGE, NAMES)
    operations = [MakeAtOnce(PACKAGE, NAMES)]
