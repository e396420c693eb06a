"""Keep with each audit row the hash of what it says."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0013_table_shapes'),
    ]

    operations = [
        migrations.AddField(
            model_name='auditrow',
            name='sha256',
            field=models.BinaryField(blank=True, null=True),
        ),
    ]
