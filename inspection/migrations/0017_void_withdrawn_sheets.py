"""Void the sheets that were open when their cars were withdrawn from the block."""

from django.db import migrations

WITHDRAWN = "withdrawn"


def void(apps, schema_editor):
    Sheet = apps.get_model("inspection", "Sheet")
    SheetVoid = apps.get_model("inspection", "SheetVoid")
    left_open = Sheet.objects.filter(entry__state=WITHDRAWN, seal=None)
    for sheet in left_open.select_related("entry"):
        move = sheet.entry.moves.filter(to_state=WITHDRAWN).order_by("-id").first()
        if move is None:
            continue
        SheetVoid.objects.create(
            sheet=sheet,
            by_id=move.by_id,
            at=move.at,
            reason=move.reason or WITHDRAWN,
        )


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0016_sheet_voids"),
    ]

    operations = [
        # Going back drops the table itself.
        migrations.RunPython(void, migrations.RunPython.noop),
    ]
