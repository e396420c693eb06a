"""What the columns of a table were taken for, kept for the next one like it."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0012_club_settings"),
    ]

    operations = [
        migrations.CreateModel(
            name='TableShape',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shape', models.CharField(max_length=64, unique=True)),
                ('kind', models.CharField(choices=[('tyre', 'tyre'), ('gear', 'gear'), ('motor', 'motor'), ('guide', 'guide')], max_length=10)),
                ('layout', models.JSONField()),
                ('said_at', models.DateTimeField()),
            ],
        ),
        migrations.RemoveConstraint(
            model_name='batchdraft',
            name='draft_kind_is_known',
        ),
        migrations.AlterField(
            model_name='batchdraft',
            name='kind',
            field=models.CharField(blank=True, choices=[('tyre', 'tyre'), ('gear', 'gear'), ('motor', 'motor'), ('guide', 'guide')], max_length=10),
        ),
        migrations.AddConstraint(
            model_name='batchdraft',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['tyre', 'gear', 'motor', 'guide', ''])), name='draft_kind_is_known', violation_error_code='draft_kind_is_known'),
        ),
        migrations.AddField(
            model_name='tableshape',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='tableshape',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['tyre', 'gear', 'motor', 'guide'])), name='shape_kind_is_known', violation_error_code='shape_kind_is_known'),
        ),
    ]
