"""A car is known by its tag for ever, by its number on a night in a class."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0011_fill_car_tags"),
    ]

    operations = [
        migrations.AlterField(
            "car", "tag", models.CharField(max_length=12, unique=True)
        ),
        migrations.AlterField("car", "number", models.CharField(max_length=8)),
        migrations.AlterModelOptions("car", {"ordering": ["number", "tag"]}),
        migrations.AlterField("entry", "number", models.CharField(max_length=8)),
        migrations.AddConstraint(
            "entry",
            models.UniqueConstraint(
                fields=["night", "race_class", "number"], name="one_car_a_number"
            ),
        ),
    ]
