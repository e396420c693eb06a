"""Keep the cars that are held after the race, and the sample drawn of them."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0024_protests'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HeldCar',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('reason', models.CharField(max_length=200)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='held', to='inspection.entry')),
            ],
            options={
                'ordering': ['at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='ReleasedCar',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('held', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='release', to='inspection.heldcar')),
            ],
        ),
        migrations.CreateModel(
            name='Sample',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('seed', models.CharField(max_length=64)),
                ('seed_sha256', models.CharField(max_length=64)),
                ('count', models.PositiveSmallIntegerField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('night', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sample', to='inspection.racenight')),
            ],
        ),
        migrations.CreateModel(
            name='SampleDraw',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('among', models.JSONField()),
                ('drawn', models.JSONField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('sample', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='draw', to='inspection.sample')),
            ],
        ),
        migrations.AddConstraint(
            model_name='heldcar',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='held_for_a_reason'),
        ),
        append_only("inspection_sample", unique=["night_id"]),
        append_only("inspection_sampledraw", unique=["sample_id"]),
        append_only("inspection_heldcar"),
        append_only("inspection_releasedcar", unique=["held_id"]),
    ]
