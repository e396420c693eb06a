"""Codes by which somebody takes over a device."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0027_club_ways")]

    operations = [
        migrations.CreateModel(
            name="TakeOverCode",
            fields=[
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="+",
                        serialize=False,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("code_hash", models.CharField(max_length=128)),
                ("ends_at", models.DateTimeField()),
            ],
        ),
    ]
