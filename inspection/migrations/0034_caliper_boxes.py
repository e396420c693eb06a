"""Caliper boxes."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0033_longer_sheet_numbers'),
        ('inventory', '0029_api_tokens'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='CaliperBox',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=40)),
                ('code_sha256', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('last_used_at', models.DateTimeField(blank=True, null=True)),
                ('put_at', models.DateTimeField(blank=True, null=True)),
                ('block', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='inspection.block')),
                ('gauge_mode', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.gaugemode')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('put_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'caliper boxes',
                'ordering': ['name', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('block', None), models.Q(models.Q(('put_by', None), _negated=True), models.Q(('put_at', None), _negated=True)), _connector='OR'), name='box_on_a_block_reads_for_somebody')],
            },
        ),
    ]
