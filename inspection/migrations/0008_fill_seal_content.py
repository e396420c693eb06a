"""Pack what the seals made before have signed; the hash is over the plain text."""

import zlib

from django.db import migrations

_AT_ONCE = 200


def fill(apps, schema_editor):
    Seal = apps.get_model("inspection", "Seal")
    SealContent = apps.get_model("inspection", "SealContent")
    seals = Seal.objects.filter(signed=None).order_by("pk").only("content")
    rows = []
    for seal in seals.iterator(_AT_ONCE):
        packed = zlib.compress(seal.content.encode(), zlib.Z_BEST_COMPRESSION)
        if zlib.decompress(packed).decode() != seal.content:
            msg = f"Seal {seal.pk} is not the same when it is unpacked."
            raise RuntimeError(msg)
        rows.append(SealContent(seal=seal, packed=packed))
        if len(rows) == _AT_ONCE:
            SealContent.objects.bulk_create(rows)
            rows.clear()
    SealContent.objects.bulk_create(rows)


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0007_seal_content"),
    ]

    # There is no way back: the next step takes away where the texts came from.
    operations = [migrations.RunPython(fill)]
