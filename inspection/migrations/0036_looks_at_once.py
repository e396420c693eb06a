"""A rule of something looked at may say that it is answered with the others."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept

WORDS = ["either", "taken only", "all at once"]


class Migration(migrations.Migration):
    dependencies = [("inspection", "0035_guards_of_values")]

    operations = [
        migrations.AlterField(
            model_name="rule",
            name="evidence",
            field=models.CharField(
                choices=[(word, word) for word in WORDS],
                default="either",
                max_length=12,
            ),
        ),
        ChangeKept(
            [
                migrations.RemoveConstraint(
                    model_name="rule", name="evidence_is_known"
                ),
                migrations.AddConstraint(
                    model_name="rule",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("evidence__in", WORDS)),
                        name="evidence_is_known",
                        violation_error_code="evidence_is_known",
                    ),
                ),
            ]
        ),
    ]
