"""Tokens of the API, answers that are given again, the feed of changes."""


import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0028_take_over_codes'),
    ]

    operations = [
        migrations.CreateModel(
            name='ChangeNumber',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('at', models.DateTimeField(db_index=True)),
                ('row', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.auditrow')),
            ],
        ),
        migrations.CreateModel(
            name='ApiToken',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('scope', models.CharField(choices=[('read', 'read'), ('readings', 'readings'), ('parts', 'parts'), ('all', 'all')], max_length=10)),
                ('code_sha256', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField()),
                ('ends_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('last_used_at', models.DateTimeField(blank=True, null=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='tokens', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-made_at', '-id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('scope__in', ['read', 'readings', 'parts', 'all'])), name='token_scope_is_known', violation_error_code='token_scope_is_known')],
            },
        ),
        migrations.CreateModel(
            name='KeptAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=80)),
                ('request_sha256', models.CharField(max_length=64)),
                ('status', models.PositiveSmallIntegerField()),
                ('body', models.TextField()),
                ('made_at', models.DateTimeField(db_index=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('person', 'key'), name='one_answer_a_key')],
            },
        ),
    ]
