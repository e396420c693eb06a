"""Take the text out of the seals, which are now read without it."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0008_fill_seal_content"),
    ]

    operations = [
        migrations.RemoveField(model_name="seal", name="content"),
    ]
