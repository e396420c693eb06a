"""Give what a seal signs a table of its own, so that a seal is read without it."""

import django.db.models.deletion
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0006_published_names"),
    ]

    operations = [
        migrations.CreateModel(
            name="SealContent",
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
                ("packed", models.BinaryField()),
                (
                    "seal",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signed",
                        to="inspection.seal",
                    ),
                ),
            ],
            options={"verbose_name_plural": "seal contents"},
        ),
        append_only("inspection_sealcontent", unique=["seal_id"]),
    ]
