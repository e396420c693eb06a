"""Mark what somebody concerned in a car read of it."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0027_nights_to_live_in"),
        ("inventory", "0019_families"),
    ]

    operations = [
        ChangeKept(
            [
                migrations.AddField(
                    "sheetreading", "is_own_car", models.BooleanField(default=False)
                )
            ]
        )
    ]
