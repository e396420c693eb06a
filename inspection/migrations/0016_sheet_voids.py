"""Let a sheet be void: open, sealed or void, never two of them."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import RefuseWrites, append_only


def _void(sheet: str) -> str:
    return f"EXISTS (SELECT 1 FROM inspection_sheetvoid WHERE sheet_id = {sheet})"


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("inspection", "0015_seal_checks"),
    ]

    operations = [
        migrations.CreateModel(
            name="SheetVoid",
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
                ("at", models.DateTimeField()),
                ("reason", models.CharField(max_length=200)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "sheet",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="void",
                        to="inspection.sheet",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True),
                        name="void_has_a_reason",
                    )
                ],
            },
        ),
        append_only("inspection_sheetvoid", unique=["sheet_id"]),
        RefuseWrites(
            "inspection_sheetvoid",
            name="sealed",
            message="inspection_sheetvoid: the sheet is sealed",
            insert="EXISTS (SELECT 1 FROM inspection_seal "
            "WHERE sheet_id = NEW.sheet_id)",
        ),
        RefuseWrites(
            "inspection_seal",
            name="void",
            message="inspection_seal: the sheet is void",
            insert=_void("NEW.sheet_id"),
        ),
        RefuseWrites(
            "inspection_sheetreading",
            name="void",
            message="inspection_sheetreading: the sheet is void",
            insert=_void("NEW.sheet_id"),
        ),
        RefuseWrites(
            "inspection_strike",
            name="void",
            message="inspection_strike: the sheet is void",
            insert="EXISTS (SELECT 1 FROM inspection_sheetvoid v "
            "JOIN inspection_sheetreading r ON r.sheet_id = v.sheet_id "
            "WHERE r.id = NEW.reading_id)",
        ),
    ]
