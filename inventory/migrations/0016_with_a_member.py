"""Room for two more states: “with a member” beside “on a car”, once one word."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept

_STATES = ["in stock", "reserved", "with a member", "on a car", "retired"]
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
    "split",
]


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0015_batch_content"),
    ]

    operations = [
        ChangeKept(
            [
                migrations.RemoveConstraint(
                    model_name="part", name="part_state_is_known"
                ),
                migrations.RemoveConstraint(
                    model_name="part", name="in_stock_is_held_by_nobody"
                ),
                migrations.AlterField(
                    model_name="part",
                    name="state",
                    field=models.CharField(
                        choices=[(one, one) for one in _STATES],
                        default="in stock",
                        max_length=20,
                    ),
                ),
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
            ]
        ),
    ]
