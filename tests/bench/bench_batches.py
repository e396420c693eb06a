"""
How long a batch takes: read, looked at, taken in, paired, shown.

Run as ``python -m tests.bench.bench_batches``.  Makes a database of its own in a
temporary folder, prints figures, asserts nothing.  Beside the import stands what a
bare reader and a bare ``bulk_create`` into the same tables take.
"""

import io
import os
import tempfile
from pathlib import Path
from typing import Any

from tests.bench.timing import best_of

ROWS = 5_000
MANY = 100_000


def tyres_csv(count: int) -> bytes:
    lines = ["Name,Compound,Ø 1,Ø 2,Ø 3"]
    for number in range(count):
        size = 17.0 + number * 7_919 % 4_001 / 1_000
        compound = ("soft", "firm", "treated")[number % 3]
        lines.append(
            f"n{number},{compound},{size:.2f},{size + 0.01:.2f},{size - 0.01:.2f}"
        )
    return "\n".join(lines).encode()


def show_hostile() -> None:
    from inventory.files.refused import FileRefusedError  # noqa: PLC0415
    from inventory.files.tables import read_table  # noqa: PLC0415
    from tests.inventory import hostile  # noqa: PLC0415

    print("hostile files, until they are refused (promised: 2 s)")
    bombs = {
        "8 million rows in 500 KB": hostile.sheet(
            "<row><c><v>1</v></c></row>" * 8_000_000
        ),
        "a million rows of CSV": b"18.4;18.5\n" * 1_000_000,
        "a directory that lies": hostile.lying_sizes(),
    }
    for name, content in bombs.items():

        def refuse(content: bytes = content) -> str:
            try:
                read_table(content)
            except FileRefusedError as refused:
                return refused.code
            return "not refused"

        took, code = best_of(2, refuse)
        print(f"  {name:26} {took:5.2f} s  {code}")


def show_batch(client: Any, keeper: Any) -> None:
    from django.db import connection  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    from inventory.actions.audit import Act  # noqa: PLC0415
    from inventory.actions.batches import batch_of_draft, take_batch  # noqa: PLC0415
    from inventory.actions.drafts import NewDraft, read_draft, upload_draft  # noqa: PLC0415
    from inventory.loaders.incoming.previews import preview_draft  # noqa: PLC0415
    from inventory.models import BatchDraft  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415
    from tests.inventory import bags  # noqa: PLC0415

    print(f"{ROWS:,} tyres, three readings each")
    act = Act(by=keeper, at=builders.now())
    gauge = bags.gauge()
    draft = upload_draft(
        NewDraft(name="Bench", content=tyres_csv(ROWS), gauge=gauge), act=act
    )
    read, _ = best_of(1, lambda: read_draft(draft.pk, act=act))
    print(f"  file read                        {read:6.2f} s")
    draft = BatchDraft.objects.get(pk=draft.pk)
    looked, preview = best_of(3, lambda: preview_draft(draft, gauge=gauge))
    print(f"  looked at                        {looked:6.2f} s (promised with it: 3 s)")
    with CaptureQueriesContext(connection) as asked:
        taken, batch = best_of(
            1,
            lambda: take_batch(
                batch_of_draft(draft, gauge=gauge), preview.checked, act=act
            ),
        )
    print(
        f"  taken in, one transaction        {taken:6.2f} s (promised: 5 s), "
        f"{len(asked)} statements"
    )
    address = f"/pairing/of/{batch.pk}"
    client.get(address)
    shown, page = best_of(5, lambda: client.get(address))
    print(f"  paired and shown                 {shown:6.2f} s (promised: 1 s)")
    size = len(page.context["strip"].encode()) / 1024
    print(f"  strip chart                      {size:6.1f} KiB (promised: 600)")
    print(f"  page                             {len(page.content) / 1024:6.0f} KiB")
    swap = {"HX-Request": "true"}
    moved, _ = best_of(5, lambda: client.get(address, headers=swap))
    print(f"  the tolerance moved              {moved:6.2f} s")


def show_taking(keeper: Any) -> None:
    """Take a bag in beside a bare `bulk_create` of the same rows, both undone."""
    from django.db import transaction  # noqa: PLC0415

    from inventory.actions.audit import Act  # noqa: PLC0415
    from inventory.actions.batches import NewBatch, take_batch  # noqa: PLC0415
    from inventory.compute.stock.words import PartKind  # noqa: PLC0415
    from inventory.files.columns import guess_layout  # noqa: PLC0415
    from inventory.files.rows import read_rows  # noqa: PLC0415
    from inventory.files.tables import read_table  # noqa: PLC0415
    from inventory.loaders.incoming.checked_rows import check_rows  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415
    from tests.inventory import bags  # noqa: PLC0415

    gauge, act = bags.gauge(), Act(by=keeper, at=builders.now())
    for count in (400, ROWS):
        table = read_table(tyres_csv(count))
        layout = guess_layout(table, PartKind.TYRE)
        rows = read_rows(table, layout, PartKind.TYRE).rows
        checked = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
        # The bag of the same sizes may be there from before.
        new = NewBatch(name=f"Of {count}", gauge=gauge, is_another=True)

        def ours(new: Any = new, checked: Any = checked) -> Any:
            with transaction.atomic():
                batch = take_batch(new, checked, act=act)
                transaction.set_rollback(True)
            return batch

        with transaction.atomic():
            same = rows_of_batch(take_batch(new, checked, act=act))
            transaction.set_rollback(True)

        def bare(same: Any = same) -> None:
            with transaction.atomic():
                write_bare(same)
                transaction.set_rollback(True)

        # By turns, so that what else the machine does falls on both.
        times = [(best_of(1, ours)[0], best_of(1, bare)[0]) for _ in range(3)]
        took, plain = (min(each) for each in zip(*times, strict=True))
        print(
            f"{count:,} tyres taken in: {took:.2f} s against {plain:.2f} s of a bare "
            f"bulk_create of the same rows: {took / plain:.2f} times (promised: 2)"
        )


def rows_of_batch(batch: Any) -> list[tuple[Any, list[dict[str, Any]]]]:
    """Read all rows that a batch is, a list a table, the first tables first."""
    from inventory.models import (  # noqa: PLC0415
        Batch,
        BatchPart,
        Part,
        PartEstimate,
        PartMove,
        PartReading,
        Tyre,
    )

    parts = Part.objects.filter(batches__batch=batch)
    found = (
        (Batch, Batch.objects.filter(pk=batch.pk)),
        (Part, parts),
        (Tyre, Tyre.objects.filter(part__in=parts)),
        (PartMove, PartMove.objects.filter(part__in=parts)),
        (BatchPart, BatchPart.objects.filter(batch=batch)),
        (PartEstimate, PartEstimate.objects.filter(part__in=parts)),
        (PartReading, PartReading.objects.filter(estimate__part__in=parts)),
    )
    return [(model, [dict(row) for row in rows.values()]) for model, rows in found]


def write_bare(same: list[tuple[Any, list[dict[str, Any]]]]) -> None:
    """Write rows as they were, table by table."""
    for model, rows in same:
        model.objects.bulk_create([model(**row) for row in rows])


def show_import(keeper: Any) -> None:
    import pandas as pd  # noqa: PLC0415

    from inventory.actions.audit import Act  # noqa: PLC0415
    from inventory.actions.batches import NewBatch, take_batch  # noqa: PLC0415
    from inventory.compute.stock.words import PartKind  # noqa: PLC0415
    from inventory.files.columns import guess_layout  # noqa: PLC0415
    from inventory.files.rows import read_rows  # noqa: PLC0415
    from inventory.files.tables import read_table  # noqa: PLC0415
    from inventory.loaders.incoming.checked_rows import check_rows  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415
    from tests.inventory import bags  # noqa: PLC0415

    print(f"{MANY:,} tyres (promised: 4 times a bare import of the same tables)")
    content = tyres_csv(MANY)
    gauge = bags.gauge()

    def ours() -> None:
        table = read_table(content)
        layout = guess_layout(table, PartKind.TYRE)
        rows = read_rows(table, layout, PartKind.TYRE).rows
        checked = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
        new = NewBatch(name="Many", gauge=gauge)
        take_batch(new, checked, act=Act(by=keeper, at=builders.now()))

    took, _ = best_of(1, ours)
    frame: Any = None

    def parse() -> None:
        nonlocal frame
        frame = pd.read_csv(io.BytesIO(content))

    parsed, _ = best_of(1, parse)
    written, _ = best_of(1, lambda: bare_import(frame, keeper))
    bare = parsed + written
    print(
        f"  {took:.1f} s against {bare:.1f} s bare: {took / bare:.2f} times "
        f"({parsed:.2f} s of it reading)"
    )


def bare_import(frame: Any, keeper: Any) -> None:
    """Put a frame into the same tables and rows, without a look at any of it."""
    import uuid  # noqa: PLC0415

    from django.db import transaction  # noqa: PLC0415

    from inventory.compute.batches.words import BatchSource  # noqa: PLC0415
    from inventory.compute.stock.words import Move, PartKind, PartQuantity  # noqa: PLC0415
    from inventory.models import (  # noqa: PLC0415
        Batch,
        BatchPart,
        Part,
        PartEstimate,
        PartMove,
        PartReading,
        Tyre,
    )
    from tests import builders  # noqa: PLC0415

    now = builders.now()
    records = frame.to_dict("records")
    with transaction.atomic():
        batch = Batch.objects.create(
            name="Bare",
            kind=PartKind.TYRE,
            source=BatchSource.FILE,
            made_at=now,
            by=keeper,
        )
        parts = Part.objects.bulk_create(
            Part(tag=f"X{n}", kind=PartKind.TYRE, name=record["Name"], received_at=now)
            for n, record in enumerate(records)
        )
        Tyre.objects.bulk_create(
            Tyre(part=part, compound=record["Compound"])
            for part, record in zip(parts, records, strict=True)
        )
        PartMove.objects.bulk_create(
            PartMove(part=part, move=Move.RECEIVE, at=now, by=keeper) for part in parts
        )
        BatchPart.objects.bulk_create(
            BatchPart(batch=batch, part=part, position=n)
            for n, part in enumerate(parts)
        )
        diameters = PartEstimate.objects.bulk_create(
            PartEstimate(
                part=part,
                quantity=PartQuantity.TYRE_DIAMETER,
                value=round(record["Ø 1"] * 1e6),
                taken_at=now,
                by=keeper,
            )
            for part, record in zip(parts, records, strict=True)
        )
        PartEstimate.objects.bulk_create(
            PartEstimate(
                part=part,
                quantity=PartQuantity.OUT_OF_ROUND,
                value=20_000,
                taken_at=now,
                by=keeper,
            )
            for part in parts
        )
        PartReading.objects.bulk_create(
            PartReading(
                estimate=estimate,
                reading_id=uuid.uuid4(),
                value=round(record[column] * 1e6),
                text=str(record[column]),
            )
            for estimate, record in zip(diameters, records, strict=True)
            for column in ("Ø 1", "Ø 2", "Ø 3")
        )


def main() -> None:
    """Set a database up, and time each."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.local"
        os.environ["FEELERBOOK_DATA"] = str(Path(folder))
        import django  # noqa: PLC0415

        django.setup()
        from django.conf import settings  # noqa: PLC0415
        from django.core.management import call_command  # noqa: PLC0415
        from django.test import Client  # noqa: PLC0415
        from django.test.utils import setup_test_environment  # noqa: PLC0415

        setup_test_environment()
        settings.STORAGES["staticfiles"]["BACKEND"] = (
            "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
        call_command("migrate", verbosity=0)
        from inventory.compute.roles import Role  # noqa: PLC0415
        from tests import builders  # noqa: PLC0415

        keeper = builders.make_person(Role.PARTS_KEEPER)
        client = Client()
        client.force_login(keeper, backend="django.contrib.auth.backends.ModelBackend")
        show_hostile()
        show_batch(client, keeper)
        show_taking(keeper)
        show_import(keeper)


if __name__ == "__main__":
    main()
