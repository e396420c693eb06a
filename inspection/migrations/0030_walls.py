"""Keep notices, and of a sheet typed in from paper when it was measured."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0029_night_reports'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='sheet',
            name='paper_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.CreateModel(
            name='Notice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('notice', 'notice'), ('how we measure here', 'how we measure here')], default='notice', max_length=20)),
                ('text', models.CharField(max_length=400)),
                ('at', models.DateTimeField()),
                ('taken_down_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-at', '-id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['notice', 'how we measure here'])), name='notice_kind_is_known', violation_error_code='notice_kind_is_known'), models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='notice_says_something')],
            },
        ),
    ]
