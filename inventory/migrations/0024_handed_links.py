"""Links handed to people, their sessions by person, and names that look apart."""

import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0023_plain_sign_in_names'),
    ]

    operations = [
        migrations.CreateModel(
            name='HandedLink',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('invitation', 'invitation'), ('password', 'password')], max_length=12)),
                ('code_sha256', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField()),
                ('good_until', models.DateTimeField()),
                ('name', models.CharField(blank=True, max_length=80)),
                ('used_at', models.DateTimeField(blank=True, null=True)),
                ('used_with', models.CharField(blank=True, max_length=60)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-made_at', '-id'],
            },
        ),
        migrations.CreateModel(
            name='InvitedRole',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('role', models.CharField(choices=[('member', 'member'), ('scrutineer', 'scrutineer'), ('parts keeper', 'parts keeper'), ('chief scrutineer', 'chief scrutineer'), ('admin', 'admin')], max_length=20)),
            ],
        ),
        migrations.CreateModel(
            name='OpenSession',
            fields=[
                ('session_key', models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name='session key')),
                ('session_data', models.TextField(verbose_name='session data')),
                ('expire_date', models.DateTimeField(db_index=True, verbose_name='expire date')),
                ('mark', models.CharField(blank=True, db_index=True, max_length=12)),
                ('device', models.CharField(blank=True, max_length=60)),
                ('address', models.CharField(blank=True, max_length=45)),
                ('began_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'verbose_name': 'session',
                'verbose_name_plural': 'sessions',
                'abstract': False,
            },
        ),
        migrations.AddConstraint(
            model_name='person',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace(django.db.models.functions.text.Lower('sign_in_name'), models.Value('0'), models.Value('o')), models.Value('1'), models.Value('l')), models.Value('i'), models.Value('l')), models.Value('rn'), models.Value('m')), models.Value('vv'), models.Value('w')), models.Value('.'), models.Value('')), models.Value('-'), models.Value('')), name='no_sign_in_name_looks_alike'),
        ),
        migrations.AddField(
            model_name='handedlink',
            name='made_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='handedlink',
            name='person',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='links', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='invitedrole',
            name='link',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='roles', to='inventory.handedlink'),
        ),
        migrations.AddField(
            model_name='opensession',
            name='person',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='sessions', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='handedlink',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['invitation', 'password'])), name='link_kind_is_known', violation_error_code='link_kind_is_known'),
        ),
        migrations.AddConstraint(
            model_name='handedlink',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'password'), _negated=True), ('person__isnull', False), _connector='OR'), name='password_link_is_for_somebody'),
        ),
        migrations.AddConstraint(
            model_name='handedlink',
            constraint=models.CheckConstraint(condition=models.Q(('used_at__isnull', True), ('withdrawn_at__isnull', True), _connector='OR'), name='link_is_used_or_withdrawn'),
        ),
        migrations.AddConstraint(
            model_name='invitedrole',
            constraint=models.UniqueConstraint(fields=('link', 'role'), name='one_invited_role_a_link'),
        ),
        migrations.AddConstraint(
            model_name='invitedrole',
            constraint=models.CheckConstraint(condition=models.Q(('role__in', ['member', 'scrutineer', 'parts keeper', 'chief scrutineer', 'admin'])), name='invited_role_is_known', violation_error_code='invited_role_is_known'),
        ),
        migrations.AddConstraint(
            model_name='opensession',
            constraint=models.CheckConstraint(condition=models.Q(('person__isnull', True), models.Q(('mark', ''), _negated=True), _connector='OR'), name='session_of_a_person_has_a_mark'),
        ),
    ]
