"""Keep the one address by which a club without people is begun."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0009_guides"),
    ]

    operations = [
        migrations.CreateModel(
            name="Beginning",
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
                ("code_sha256", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("id", 1)),
                        name="one_address_begins_the_club",
                    )
                ],
            },
        ),
    ]
