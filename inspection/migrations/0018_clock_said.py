"""A reading keeps what a device's clock said where that is not to be believed."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept


class Migration(migrations.Migration):
    dependencies = [("inspection", "0017_void_withdrawn_sheets")]

    operations = [
        ChangeKept(
            [
                migrations.AddField(
                    model_name="sheetreading",
                    name="clock_said",
                    field=models.CharField(blank=True, default="", max_length=40),
                ),
            ]
        ),
    ]
