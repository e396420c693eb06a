"""Stocktakes by drawer: ticked while open, a record of the difference when closed."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import RefuseWrites, append_only


def _key() -> models.BigAutoField:
    return models.BigAutoField(
        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
    )


def _to(model: str, *, name: str = "+", **options: bool) -> models.ForeignKey:
    return models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT,
        related_name=name,
        to=model,
        **options,
    )


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("inventory", "0021_drawers_before_pairs"),
    ]

    operations = [
        migrations.CreateModel(
            name="Stocktake",
            fields=[
                ("id", _key()),
                ("drawer", models.CharField(db_index=True, max_length=40)),
                ("started_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("by", _to(settings.AUTH_USER_MODEL)),
                ("closed_by", _to(settings.AUTH_USER_MODEL, blank=True, null=True)),
            ],
            options={
                "ordering": ["-started_at", "-id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at", None)),
                        fields=("drawer",),
                        name="one_open_stocktake_a_drawer",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at", None), ("closed_by", None)),
                            models.Q(
                                models.Q(("closed_at", None), _negated=True),
                                models.Q(("closed_by", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="stocktake_is_closed_by_somebody",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StocktakeTick",
            fields=[
                ("id", _key()),
                ("tag", models.CharField(max_length=40)),
                (
                    "part",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="inventory.part",
                    ),
                ),
                (
                    "stocktake",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="ticks",
                        to="inventory.stocktake",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("stocktake", "tag"), name="ticked_once_a_stocktake"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StocktakeLine",
            fields=[
                ("id", _key()),
                ("tag", models.CharField(max_length=40)),
                (
                    "counted",
                    models.CharField(
                        choices=[
                            ("found", "found"),
                            ("missing", "missing"),
                            ("surplus", "surplus"),
                        ],
                        max_length=10,
                    ),
                ),
                ("drawer", models.CharField(blank=True, max_length=40)),
                ("state", models.CharField(blank=True, max_length=20)),
                ("part", _to("inventory.part", blank=True, null=True)),
                ("stocktake", _to("inventory.stocktake", name="lines")),
            ],
            options={
                "ordering": ["id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("counted__in", ["found", "missing", "surplus"])
                        ),
                        name="counted_is_known",
                        violation_error_code="counted_is_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("counted", "surplus"),
                            models.Q(("part", None), _negated=True),
                            _connector="OR",
                        ),
                        name="only_surplus_is_unknown",
                    ),
                ],
            },
        ),
        append_only("inventory_stocktakeline"),
        RefuseWrites(
            "inventory_stocktake",
            message="inventory_stocktake: a stocktake is closed once, and stays",
            update="OLD.closed_at IS NOT NULL OR NEW.id <> OLD.id "
            "OR NEW.drawer <> OLD.drawer OR NEW.started_at <> OLD.started_at "
            "OR NEW.by_id <> OLD.by_id",
            delete="OLD.closed_at IS NOT NULL",
            replace="EXISTS (SELECT 1 FROM inventory_stocktake WHERE id = NEW.id)",
        ),
    ]
