"""Of pairs from before it was noted, undoing leaves the tyres where they are."""

from typing import Any

from django.db import migrations
from django.db.models import OuterRef, Subquery


def note_drawers(apps: Any, schema_editor: Any) -> None:
    member = apps.get_model("inventory", "SetMember")
    part = apps.get_model("inventory", "Part")
    lies_in = part.objects.filter(pk=OuterRef("part")).values("drawer")
    member.objects.filter(ended_at=None).update(drawer_before=Subquery(lies_in))


class Migration(migrations.Migration):
    dependencies = [("inventory", "0020_corrections")]

    operations = [migrations.RunPython(note_drawers, migrations.RunPython.noop)]
