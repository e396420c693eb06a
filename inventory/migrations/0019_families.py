"""Let people be declared family, and the club let own cars be measured."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def _person() -> models.ForeignKey:
    return models.ForeignKey(
        on_delete=django.db.models.deletion.CASCADE,
        related_name="+",
        to=settings.AUTH_USER_MODEL,
    )


class Migration(migrations.Migration):
    dependencies = [("inventory", "0018_part_states_are_known")]

    operations = [
        migrations.AddField(
            "club", "lets_own_cars_be_measured", models.BooleanField(default=False)
        ),
        migrations.CreateModel(
            name="FamilyTie",
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
                ("declared_at", models.DateTimeField()),
                (
                    "declared_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("first", _person()),
                ("second", _person()),
            ],
            options={
                "ordering": ["first__name", "second__name", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("first", "second"), name="one_tie_a_pair"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("first__lt", models.F("second"))),
                        name="tie_has_its_lower_key_first",
                    ),
                ],
            },
        ),
    ]
