"""Let the club publish that each person's own repeats count in u."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0029_api_tokens'),
    ]

    operations = [
        migrations.AddField(
            model_name='club',
            name='own_repeatability_since',
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
