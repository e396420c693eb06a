"""Index checks as a failed one is followed back; drop what nothing is found by."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._indexes import DropColumnIndex


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0010_beginning"),
    ]

    operations = [
        DropColumnIndex(
            model_name='gaugecheck',
            name='by',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        DropColumnIndex(
            model_name='gaugecheck',
            name='gauge',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='inventory.gauge'),
        ),
        DropColumnIndex(
            model_name='gaugecheck',
            name='taken_at',
            field=models.DateTimeField(),
        ),
        DropColumnIndex(
            model_name='partestimate',
            name='by',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        DropColumnIndex(
            model_name='partestimate',
            name='gauge_check',
            field=models.ForeignKey(blank=True, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.gaugecheck'),
        ),
        DropColumnIndex(
            model_name='partestimate',
            name='gauge_mode',
            field=models.ForeignKey(blank=True, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.gaugemode'),
        ),
        migrations.AddIndex(
            model_name='gaugecheck',
            index=models.Index(fields=['gauge', 'taken_at', 'id'], name='check_by_gauge'),
        ),
        migrations.AddIndex(
            model_name='gaugecheck',
            index=models.Index(condition=models.Q(('result', 'failed')), fields=['gauge', 'taken_at'], name='failed_check_by_gauge'),
        ),
    ]
