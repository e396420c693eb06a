"""Index readings by gauge and time; drop what nothing is found by."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._indexes import DropColumnIndex


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0013_guides'),
        ('inventory', '0011_history_indexes'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        DropColumnIndex(
            model_name='finding',
            name='sheet',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='findings', to='inspection.sheet'),
        ),
        DropColumnIndex(
            model_name='seal',
            name='night',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='seals', to='inspection.racenight'),
        ),
        DropColumnIndex(
            model_name='seal',
            name='sealed_by',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        DropColumnIndex(
            model_name='sheetpart',
            name='sheet',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='parts', to='inspection.sheet'),
        ),
        DropColumnIndex(
            model_name='sheetreading',
            name='by',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        DropColumnIndex(
            model_name='sheetreading',
            name='carried_from',
            field=models.ForeignKey(blank=True, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inspection.sheetreading'),
        ),
        DropColumnIndex(
            model_name='sheetreading',
            name='gauge_check',
            field=models.ForeignKey(blank=True, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.gaugecheck'),
        ),
        DropColumnIndex(
            model_name='sheetreading',
            name='gauge_mode',
            field=models.ForeignKey(blank=True, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.gaugemode'),
        ),
        migrations.AddIndex(
            model_name='sheetreading',
            index=models.Index(fields=['gauge_mode', 'taken_at'], name='reading_by_gauge'),
        ),
    ]
