"""Look parts up by how their name or their drawer begins."""

import django.db.models.functions.text
from django.db import migrations, models

from inventory.migrations._indexes import AddBeginningIndex


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0024_handed_links"),
    ]

    operations = [
        AddBeginningIndex(
            model_name='part',
            index=models.Index(django.db.models.functions.text.Lower('name'), name='part_by_name'),
        ),
        AddBeginningIndex(
            model_name='part',
            index=models.Index(django.db.models.functions.text.Lower('drawer'), name='part_by_drawer'),
        ),
    ]
