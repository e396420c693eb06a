from django.db import migrations

MEASURE_FOR_THE_CLUB = ["scrutineer", "chief scrutineer", "parts keeper"]


def fill(apps, schema_editor):
    """What somebody stored who measures for the club stands; the rest is declared."""
    grants = apps.get_model("inventory", "RoleGrant")
    measuring = grants.objects.filter(role__in=MEASURE_FOR_THE_CLUB)
    values = apps.get_model("inspection", "CarValue").objects
    current = values.filter(superseded_at=None)
    current.exclude(by__in=measuring.values("person")).update(is_declared=True)


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0021_declared_values"),
        ("inventory", "0008_kept_batches"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
