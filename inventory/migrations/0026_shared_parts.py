"""A member's own parts are theirs alone to see, unless they share them."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0025_look_up_beginnings"),
    ]

    operations = [
        ChangeKept(
            [
                migrations.AddField(
                    model_name="part",
                    name="is_shared",
                    field=models.BooleanField(default=False),
                ),
                migrations.AddConstraint(
                    model_name="part",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("is_shared", False),
                            models.Q(("owner", None), _negated=True),
                            _connector="OR",
                        ),
                        name="only_an_own_part_is_shared",
                        violation_error_code="only_an_own_part_is_shared",
                    ),
                ),
            ]
        ),
    ]
