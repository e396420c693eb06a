"""Let a sample be taken back: a night has one that was not, and may say another."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept, RefuseWrites, append_only

_TABLE = "inspection_sample"


class LiftRefusal(RefuseWrites):
    """Take a refusal away that was put before, and put it back on the way back."""

    database_forwards = RefuseWrites.database_backwards
    database_backwards = RefuseWrites.database_forwards


def _kept(**columns):
    kept = append_only(_TABLE, **columns)
    return {"table": _TABLE, "message": kept.message, "replace": kept.replace}


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0038_one_open_sheet"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        # On SQLite it refuses a second row of a night as a way to replace the first.
        LiftRefusal(**_kept(unique=["night_id"])),
        ChangeKept(
            [
                migrations.AlterField(
                    model_name="sample",
                    name="night",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="samples",
                        to="inspection.racenight",
                    ),
                ),
                migrations.CreateModel(
                    name="SampleVoid",
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
                            "sample",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="void",
                                to="inspection.sample",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True),
                                name="sample_void_has_a_reason",
                            )
                        ],
                    },
                ),
            ]
        ),
        RefuseWrites(**_kept()),
        append_only("inspection_samplevoid", unique=["sample_id"]),
        RefuseWrites(
            _TABLE,
            name="one",
            message=f"{_TABLE}: the night has a sample already",
            insert=f"EXISTS (SELECT 1 FROM {_TABLE} s "
            "WHERE s.night_id = NEW.night_id AND NOT EXISTS "
            "(SELECT 1 FROM inspection_samplevoid WHERE sample_id = s.id))",
            waits_for="SELECT 1 FROM inspection_racenight "
            "WHERE id = NEW.night_id FOR UPDATE",
        ),
        RefuseWrites(
            "inspection_sampledraw",
            name="void",
            message="inspection_sampledraw: the sample was taken back",
            insert="EXISTS (SELECT 1 FROM inspection_samplevoid "
            "WHERE sample_id = NEW.sample_id)",
        ),
    ]
