"""Keep what a night is lived in by: lists that close, calls, loans, who measures."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept, append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0026_night_sums'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        ChangeKept([
            migrations.CreateModel(
                name='EntryCall',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('at', models.DateTimeField()),
                ],
                options={
                    'ordering': ['at', 'id'],
                },
            ),
            migrations.AddField(
                model_name='block',
                name='is_in_use',
                field=models.BooleanField(default=True),
            ),
            migrations.AddField(
                model_name='block',
                name='measured_by',
                field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
            ),
            migrations.AddField(
                model_name='car',
                name='lent_to',
                field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
            ),
            migrations.AddField(
                model_name='car',
                name='retired_at',
                field=models.DateTimeField(blank=True, null=True),
            ),
            migrations.AddField(
                model_name='entry',
                name='is_late',
                field=models.BooleanField(default=False),
            ),
            migrations.AddField(
                model_name='racenight',
                name='called_first',
                field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inspection.raceclass'),
            ),
            migrations.AddField(
                model_name='racenight',
                name='list_closes_at',
                field=models.DateTimeField(blank=True, null=True),
            ),
            migrations.AddConstraint(
                model_name='block',
                constraint=models.UniqueConstraint(fields=('measured_by',), name='one_block_a_scrutineer'),
            ),
            migrations.AddConstraint(
                model_name='car',
                constraint=models.CheckConstraint(condition=models.Q(('lent_to', None), ('retired_at', None), _connector='OR'), name='no_retired_car_is_lent'),
            ),
            migrations.AddField(
                model_name='entrycall',
                name='by',
                field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
            ),
            migrations.AddField(
                model_name='entrycall',
                name='entry',
                field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='calls', to='inspection.entry'),
            ),
        ]),
        append_only("inspection_entrycall"),
    ]
