"""Keep the report to the race director as it was given out."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0028_own_cars'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='NightReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('standings', models.JSONField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('night', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='report', to='inspection.racenight')),
            ],
            options={
                'ordering': ['at'],
            },
        ),
        append_only("inspection_nightreport", unique=["night_id"]),
    ]
