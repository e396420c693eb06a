from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspection", "0020_reading_time_can_be_read")]

    operations = [
        migrations.AddField(
            model_name="carvalue",
            name="is_declared",
            field=models.BooleanField(default=False),
        ),
    ]
