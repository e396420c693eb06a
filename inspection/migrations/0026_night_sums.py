"""Keep what a closed night adds to a season."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("inspection", "0025_samples"),
    ]

    operations = [
        migrations.CreateModel(
            name='NightSums',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('figures', models.JSONField()),
                ('night', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='sums', to='inspection.racenight')),
            ],
            options={
                'verbose_name_plural': 'night sums',
            },
        ),
    ]
