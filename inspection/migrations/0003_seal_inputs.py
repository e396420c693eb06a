"""Keep what a sealed sheet's rules were given in a form that thousands are read from."""

import django.db.models.deletion
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0002_kept_rows"),
    ]

    operations = [
        migrations.CreateModel(
            name="SealInputs",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                ("columns", models.TextField()),
                ("numbers", models.BinaryField()),
                (
                    "seal",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inputs",
                        to="inspection.seal",
                    ),
                ),
            ],
            options={"verbose_name_plural": "seal inputs"},
        ),
        append_only("inspection_sealinputs", unique=["seal_id"]),
    ]
