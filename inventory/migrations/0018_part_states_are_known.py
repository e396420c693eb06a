"""Only the states that there are, and nobody holds what sits on a car."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept

_STATES = ["in stock", "reserved", "with a member", "on a car", "retired"]


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0017_handed_out_or_fitted"),
    ]

    operations = [
        ChangeKept(
            [
                migrations.AddConstraint(
                    model_name="part",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("state__in", _STATES)),
                        name="part_state_is_known",
                        violation_error_code="part_state_is_known",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="part",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("state__in", ["in stock", "on a car"]), _negated=True
                            ),
                            ("holder", None),
                            _connector="OR",
                        ),
                        name="in_stock_or_on_a_car_is_held_by_nobody",
                        violation_error_code="in_stock_or_on_a_car_is_held_by_nobody",
                    ),
                ),
            ]
        ),
    ]
