
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0030_own_repeatability'),
    ]

    operations = [
        migrations.CreateModel(
            name='CheckStrike',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('reason', models.CharField(max_length=200)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('of', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='strike', to='inventory.gaugecheck')),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='struck_check_has_a_reason')],
            },
        ),
        append_only("inventory_checkstrike", unique=["of_id"]),
    ]
