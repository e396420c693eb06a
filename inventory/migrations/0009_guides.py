"""Guides: a kind of part, its facts and its sizes."""

import django.db.models.deletion
from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept

_KINDS = ["tyre", "gear", "motor", "guide"]
_QUANTITIES = [
    "tyre_diameter",
    "tyre_width",
    "out_of_round",
    "taper",
    "tyre_hardness",
    "bore",
    "gear_diameter",
    "hub_width",
    "face_width",
    "crown_depth",
    "can_height",
    "can_width",
    "can_length",
    "shaft_diameter",
    "shaft_length",
    "motor_speed",
    "motor_resistance",
    "guide_depth",
    "guide_width",
    "mass",
]


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0008_kept_batches"),
    ]

    operations = [
        migrations.CreateModel(
            name="Guide",
            fields=[
                (
                    "part",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        serialize=False,
                        to="inventory.part",
                    ),
                ),
                ("family", models.CharField(blank=True, max_length=30)),
                ("material", models.CharField(blank=True, max_length=30)),
            ],
        ),
        ChangeKept(
            [
                migrations.RemoveConstraint(
                    model_name="batch",
                    name="batch_kind_is_known",
                ),
                migrations.RemoveConstraint(
                    model_name="batchdraft",
                    name="draft_kind_is_known",
                ),
                migrations.RemoveConstraint(
                    model_name="part",
                    name="part_kind_is_known",
                ),
                migrations.RemoveConstraint(
                    model_name="partestimate",
                    name="part_quantity_is_known",
                ),
                migrations.RemoveConstraint(
                    model_name="partset",
                    name="set_kind_is_known",
                ),
                migrations.AlterField(
                    model_name="batch",
                    name="kind",
                    field=models.CharField(
                        choices=[(one, one) for one in _KINDS], max_length=10
                    ),
                ),
                migrations.AlterField(
                    model_name="batchdraft",
                    name="kind",
                    field=models.CharField(
                        choices=[(one, one) for one in _KINDS], max_length=10
                    ),
                ),
                migrations.AlterField(
                    model_name="part",
                    name="kind",
                    field=models.CharField(
                        choices=[(one, one) for one in _KINDS], max_length=10
                    ),
                ),
                migrations.AlterField(
                    model_name="partestimate",
                    name="quantity",
                    field=models.CharField(
                        choices=[(one, one) for one in _QUANTITIES], max_length=20
                    ),
                ),
                migrations.AlterField(
                    model_name="partset",
                    name="kind",
                    field=models.CharField(
                        choices=[(one, one) for one in _KINDS], max_length=10
                    ),
                ),
                migrations.AddConstraint(
                    model_name="batch",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("kind__in", _KINDS)),
                        name="batch_kind_is_known",
                        violation_error_code="batch_kind_is_known",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="batchdraft",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("kind__in", _KINDS)),
                        name="draft_kind_is_known",
                        violation_error_code="draft_kind_is_known",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="part",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("kind__in", _KINDS)),
                        name="part_kind_is_known",
                        violation_error_code="part_kind_is_known",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="partestimate",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("quantity__in", _QUANTITIES)),
                        name="part_quantity_is_known",
                        violation_error_code="part_quantity_is_known",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="partset",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("kind__in", _KINDS)),
                        name="set_kind_is_known",
                        violation_error_code="set_kind_is_known",
                    ),
                ),
            ]
        ),
    ]
