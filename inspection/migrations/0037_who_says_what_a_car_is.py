import json
import zlib

from django.db import migrations
from django.utils import timezone

MEASURE_FOR_THE_CLUB = ["scrutineer", "chief scrutineer", "parts keeper"]
WORDS = {
    "layout": ["in-line", "sidewinder", "anglewinder"],
    "front_carrier": ["front wheels", "guide"],
}


def fill(apps, schema_editor):
    """
    Say of each car who has looked at what it is: its layout and its front.

    Whoever sealed its last sheet, if that sheet says what the car is now and they are
    not its owner or driver; else who stored its geometry for the club, if nothing was
    said of the car since.  Every other car is its owner's word, until it is confirmed.
    """
    values = apps.get_model("inspection", "CarValue").objects
    measuring = apps.get_model("inventory", "RoleGrant").objects.filter(
        role__in=MEASURE_FOR_THE_CLUB
    )
    rows = []
    for car in apps.get_model("inspection", "Car").objects.order_by("pk").iterator():
        looked = _sealed(apps, car) or _stored(values, measuring, car)
        for column, words in WORDS.items():
            if looked is None:
                continue
            by, at = looked
            word = getattr(car, column)
            rows.append(
                values.model(
                    car=car,
                    column=column,
                    value=words.index(word) * 1_000_000,
                    text=word,
                    taken_at=at,
                    by_id=by,
                )
            )
    columns = list(WORDS)
    # A word that somebody stored as a size was never looked at beside the car.
    before = values.filter(column__in=columns, superseded_at=None)
    before.update(superseded_at=timezone.now())
    values.bulk_create(rows, batch_size=500)


def _sealed(apps, car):
    seals = apps.get_model("inspection", "Seal").objects
    own = seals.filter(sheet__entry__car=car, sheet__void=None)
    seal = own.select_related("signed", "sheet__entry").order_by("-pk").first()
    if seal is None or seal.is_own_car:
        return None
    if seal.sealed_by_id in {car.owner_id, car.lent_to_id, seal.sheet.entry.driver_id}:
        return None
    try:
        content = json.loads(zlib.decompress(bytes(seal.signed.packed)).decode())
        said = {row["column"]: row["value"] for row in content["values"]}
    except (ValueError, KeyError, TypeError, zlib.error, AttributeError):
        # It holds no longer; the check of seals says so.
        return None
    for column, words in WORDS.items():
        if said.get(column) != words.index(getattr(car, column)) * 1_000_000:
            return None
    return seal.sealed_by_id, seal.sealed_at


def _stored(values, measuring, car):
    row = (
        values.filter(
            car=car,
            superseded_at=None,
            is_declared=False,
            taken_at__gte=car.changed_at,
            by__in=measuring.values("person"),
        )
        .exclude(by__in=[car.owner_id, car.lent_to_id or car.owner_id])
        .order_by("-taken_at", "-pk")
        .first()
    )
    return None if row is None else (row.by_id, row.taken_at)


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0036_looks_at_once"),
        ("inventory", "0030_own_repeatability"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
