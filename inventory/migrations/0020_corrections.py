"""What was put right stands beside what was: facts, readings, retirements, drawers."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept, append_only

_MOVES = [
    "receive",
    "reserve",
    "release",
    "hand out",
    "fit",
    "swap",
    "take off",
    "take back",
    "retire",
    "restore",
    "split",
]


def _key() -> models.BigAutoField:
    return models.BigAutoField(
        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
    )


def _by() -> models.ForeignKey:
    return models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT,
        related_name="+",
        to=settings.AUTH_USER_MODEL,
    )


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("inventory", "0019_families"),
    ]

    operations = [
        migrations.CreateModel(
            name="FactChange",
            fields=[
                ("id", _key()),
                ("fact", models.CharField(max_length=30)),
                ("before", models.CharField(blank=True, max_length=80)),
                ("after", models.CharField(blank=True, max_length=80)),
                ("reason", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                ("by", _by()),
                (
                    "part",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to="inventory.part",
                    ),
                ),
            ],
            options={"ordering": ["-id"]},
        ),
        migrations.CreateModel(
            name="ReadingStrike",
            fields=[
                ("id", _key()),
                ("reason", models.CharField(max_length=200)),
                ("at", models.DateTimeField()),
                ("by", _by()),
                (
                    "reading",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="strike",
                        to="inventory.partreading",
                    ),
                ),
            ],
            options={"ordering": ["id"]},
        ),
        append_only("inventory_factchange"),
        append_only("inventory_readingstrike", unique=["reading_id"]),
        ChangeKept(
            [
                migrations.RemoveConstraint(
                    model_name="partmove", name="move_is_known"
                ),
                migrations.AlterField(
                    model_name="partmove",
                    name="move",
                    field=models.CharField(
                        choices=[(one, one) for one in _MOVES], max_length=10
                    ),
                ),
                migrations.AddConstraint(
                    model_name="partmove",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("move__in", _MOVES)),
                        name="move_is_known",
                        violation_error_code="move_is_known",
                    ),
                ),
                migrations.AddField(
                    model_name="partestimate",
                    name="restates",
                    field=models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="restated",
                        to="inventory.partestimate",
                    ),
                ),
                migrations.AddField(
                    model_name="setmember",
                    name="drawer_before",
                    field=models.CharField(blank=True, max_length=40),
                ),
            ]
        ),
    ]
