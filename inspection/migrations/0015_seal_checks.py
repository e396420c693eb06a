"""Chain the audit rows, and keep when the seals were checked and what was found."""

import django.db.models.deletion
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0014_history_indexes'),
        ('inventory', '0014_hashed_audit_rows'),
    ]

    operations = [
        migrations.CreateModel(
            name='AuditLink',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveIntegerField(unique=True)),
                ('content', models.TextField()),
                ('previous_sha256', models.CharField(blank=True, max_length=64)),
                ('sha256', models.CharField(max_length=64, unique=True)),
                ('at', models.DateTimeField()),
                ('night', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='audit_links', to='inspection.racenight')),
            ],
            options={
                'ordering': ['sequence'],
            },
        ),
        migrations.CreateModel(
            name='SealCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(db_index=True)),
                ('occasion', models.CharField(choices=[('at closing', 'at closing'), ('at the start', 'at the start'), ('daily', 'daily'), ('after a restore', 'after a restore'), ('by hand', 'by hand')], max_length=20)),
                ('seal_count', models.PositiveIntegerField()),
                ('difference_count', models.PositiveIntegerField()),
                ('differences', models.JSONField(default=list)),
                ('night', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='seal_checks', to='inspection.racenight')),
            ],
            options={
                'ordering': ['-at', '-id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('occasion__in', ['at closing', 'at the start', 'daily', 'after a restore', 'by hand'])), name='check_occasion_is_known', violation_error_code='check_occasion_is_known')],
            },
        ),
        append_only("inspection_auditlink", unique=["sequence", "sha256"]),
        append_only("inspection_sealcheck"),
    ]
