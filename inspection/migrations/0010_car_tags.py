"""Make room for the tag of a car, and for the number of a night and class."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0009_seal_without_content"),
    ]

    operations = [
        migrations.AddField("car", "tag", models.CharField(max_length=12, null=True)),
        migrations.AddField(
            "entry", "number", models.CharField(max_length=8, null=True)
        ),
    ]
