"""Pack the values of the seals that were made before."""

import json
from struct import pack

from django.db import migrations

_BOUNDS = {None: 0, True: 1, False: -1}


def fill(apps, schema_editor):
    Seal = apps.get_model("inspection", "Seal")
    SealInputs = apps.get_model("inspection", "SealInputs")
    for seal in Seal.objects.filter(inputs=None).only("content").iterator(500):
        columns, numbers = packed(json.loads(seal.content)["values"])
        SealInputs.objects.create(seal=seal, columns=columns, numbers=numbers)


def packed(values):
    gauges, numbers = {}, []
    for row in values:
        gauge = -1
        if row["gauge"]:
            gauge = gauges.setdefault(tuple(row["gauge"]), len(gauges))
        parts = row["value"], row["random"], row["systematic"]
        numbers.append(pack("<5q", *parts, gauge, _BOUNDS[row["went_under"]]))
    return " ".join(row["column"] for row in values), b"".join(numbers)


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0003_seal_inputs"),
    ]

    operations = [
        # Going back drops the table itself.
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
