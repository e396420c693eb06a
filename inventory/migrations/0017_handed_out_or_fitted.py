"""A part that was out: its last move says whether to a member or onto a car."""

from django.db import migrations
from django.db.models import OuterRef, Subquery


def part_them(apps, schema_editor):
    """Tell parts on cars from parts with a member by what happened to them last."""
    moves = apps.get_model("inventory", "PartMove").objects
    last = moves.filter(part=OuterRef("pk")).order_by("-id").values("move")[:1]
    parts = apps.get_model("inventory", "Part").objects
    out = parts.filter(state="fitted").annotate(last=Subquery(last))
    fitted = list(out.filter(last="fit").values_list("pk", flat=True))
    for first in range(0, len(fitted), 500):
        some = fitted[first : first + 500]
        parts.filter(pk__in=some).update(state="on a car", holder=None)
    parts.filter(state="fitted").update(state="with a member")


def put_together(apps, schema_editor):
    """One word for both, as it was before."""
    parts = apps.get_model("inventory", "Part").objects
    parts.filter(state__in=["on a car", "with a member"]).update(state="fitted")


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0016_with_a_member"),
    ]

    operations = [migrations.RunPython(part_them, put_together)]
