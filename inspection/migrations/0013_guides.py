"""A guide has a place on a car."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept

_POSITIONS = [
    "rear left",
    "rear right",
    "front left",
    "front right",
    "gear",
    "pinion",
    "motor",
    "guide",
]


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0012_one_car_a_number"),
        ("inventory", "0009_guides"),
    ]

    operations = [
        ChangeKept(
            [
                migrations.RemoveConstraint(
                    model_name="fittedpart",
                    name="part_position_is_known",
                ),
                migrations.RemoveConstraint(
                    model_name="sheetpart",
                    name="sheet_part_position_is_known",
                ),
                migrations.AlterField(
                    model_name="fittedpart",
                    name="position",
                    field=models.CharField(
                        choices=[(one, one) for one in _POSITIONS], max_length=12
                    ),
                ),
                migrations.AlterField(
                    model_name="sheetpart",
                    name="position",
                    field=models.CharField(
                        choices=[(one, one) for one in _POSITIONS], max_length=12
                    ),
                ),
                migrations.AddConstraint(
                    model_name="fittedpart",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("position__in", _POSITIONS)),
                        name="part_position_is_known",
                        violation_error_code="part_position_is_known",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="sheetpart",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("position__in", _POSITIONS)),
                        name="sheet_part_position_is_known",
                        violation_error_code="sheet_part_position_is_known",
                    ),
                ),
            ]
        ),
    ]
