"""Know a bag again by its sizes."""

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0014_hashed_audit_rows"),
    ]

    operations = [
        ChangeKept([
        migrations.AddField(
            model_name='batch',
            name='content',
            field=models.CharField(blank=True, db_index=True, max_length=64),
        ),
        ]),
    ]
