"""Let the club say where its printed codes lead, and by which clock it goes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0011_history_indexes"),
    ]

    operations = [
        migrations.AddField(
            "club",
            "address",
            models.CharField(blank=True, default="", max_length=200),
            preserve_default=False,
        ),
        migrations.AddField(
            "club",
            "time_zone",
            models.CharField(blank=True, default="", max_length=64),
            preserve_default=False,
        ),
    ]
