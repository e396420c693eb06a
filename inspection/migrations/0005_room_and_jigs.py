"""Keep the sizes that parts must fit and the jig sheets of cars."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import RefuseWrites, append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0004_fill_seal_inputs'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='SavedJig',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('typed', models.JSONField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('car', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='jigs', to='inspection.car')),
            ],
            options={
                'ordering': ['-at', '-id'],
            },
        ),
        migrations.CreateModel(
            name='RoomSize',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('size', models.CharField(max_length=30)),
                ('value', models.BigIntegerField(blank=True, null=True)),
                ('text', models.CharField(max_length=40)),
                ('taken_at', models.DateTimeField()),
                ('superseded_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('car', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='room_sizes', to='inspection.car')),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('superseded_at', None)), fields=('car', 'size'), name='one_current_room_size')],
            },
        ),
        append_only('inspection_savedjig'),
        RefuseWrites(
            'inspection_roomsize',
            message='inspection_roomsize: a value is only ever superseded',
            update='OLD.superseded_at IS NOT NULL OR NEW.text <> OLD.text '
            'OR COALESCE(NEW.value, -1) <> COALESCE(OLD.value, -1)',
            delete='TRUE',
        ),
    ]
