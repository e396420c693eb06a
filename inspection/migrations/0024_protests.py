"""Keep protests, who hears them, on what they were measured and the rulings."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0023_sheet_rulings'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Protest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('claim', models.CharField(max_length=300)),
                ('at', models.DateTimeField()),
                ('appeal_of', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='appeal', to='inspection.protest')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='protests', to='inspection.entry')),
                ('rule', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inspection.rule')),
                ('sheet', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='protests', to='inspection.sheet')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='ProtestHearer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('named_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('protest', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hearers', to='inspection.protest')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='ProtestRuled',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('ruling', models.CharField(choices=[('upheld', 'upheld'), ('rejected', 'rejected'), ('withdrawn', 'withdrawn')], max_length=10)),
                ('at', models.DateTimeField()),
                ('reason', models.CharField(max_length=300)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('protest', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='ruled', to='inspection.protest')),
            ],
        ),
        migrations.CreateModel(
            name='ProtestSheet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('protest', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='measured', to='inspection.protest')),
                ('sheet', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='protest_sheet', to='inspection.sheet')),
            ],
        ),
        migrations.CreateModel(
            name='ProtestTime',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('minutes', models.PositiveSmallIntegerField()),
                ('race_class', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='protest_time', to='inspection.raceclass')),
            ],
        ),
        migrations.AddConstraint(
            model_name='protest',
            constraint=models.CheckConstraint(condition=models.Q(('claim', ''), _negated=True), name='protest_has_a_claim'),
        ),
        migrations.AddConstraint(
            model_name='protestruled',
            constraint=models.CheckConstraint(condition=models.Q(('ruling__in', ['upheld', 'rejected', 'withdrawn'])), name='protest_ruling_is_known', violation_error_code='protest_ruling_is_known'),
        ),
        migrations.AddConstraint(
            model_name='protestruled',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='protest_ruling_has_a_reason'),
        ),
        append_only("inspection_protest", unique=["appeal_of_id"]),
        append_only("inspection_protesthearer"),
        append_only("inspection_protestsheet", unique=["sheet_id"]),
        append_only("inspection_protestruled", unique=["protest_id"]),
    ]
