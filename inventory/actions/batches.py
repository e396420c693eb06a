"""Batches: parts that come in together, from a table or at the caliper."""

import hashlib
import json
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from inventory.actions.audit import Act, record_event
from inventory.actions.gauges import compute_gauge, refuse_gauge
from inventory.actions.incoming import (
    CheckedRows,
    Incoming,
    reading_id,
    with_numbers,
    write_rows,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.batch_estimates import estimates_of_batch
from inventory.compute.batch_rows import BatchRow, PartWord
from inventory.compute.batch_words import BatchSource
from inventory.compute.gauges import Gauge
from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.stock import PartKind, PartQuantity
from inventory.compute.units import Unit
from inventory.loaders.batches import Standing, standings_of
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Batch, BatchDraft, Part, PartReading

#: More rows than this hold the database's one writer for seconds.
LARGE: Final = 5_000
_TYRE: Final = "a tyre"


@dataclass(frozen=True, kw_only=True)
class NewBatch:
    """What a batch is, besides its rows; ``words`` are said of each of its parts."""

    name: str
    kind: PartKind = PartKind.TYRE
    source: BatchSource = BatchSource.FILE
    file_name: str = ""
    gauge: LoadedGauge | None = None
    words: Mapping[PartWord, str] = field(default_factory=dict)
    draft_id: int | None = None


def check_rows(
    rows: Sequence[BatchRow], *, kind: PartKind, gauge: LoadedGauge | None
) -> CheckedRows:
    """Work out the estimates of rows and look their tags up; writes nothing."""
    estimates = estimates_of_batch(rows, _gauges(gauge))
    return CheckedRows(
        rows=rows,
        estimates=estimates,
        standings=standings_of(rows, estimates, kind),
    )


def take_batch(new: NewBatch, checked: CheckedRows, *, act: Act) -> Batch:
    """
    Take a table of parts into stock: every row, or none.

    Writes a Batch and its BatchParts; for each row whose tag is new a Part with its
    Tyre or Motor and first PartMove; for each that says something new a PartEstimate
    a quantity (the current one is superseded) and a PartReading a value; deletes the
    draft; audits ``batch.taken``.  Raises RefusedError for a row that is wrong, a
    table that says nothing new or came in before, a gauge that may not be used, or
    more than 5,000 rows while the hall is busy; then nothing is written.
    """
    _refuse_rows(new, checked)
    digest = _digest(new, checked.rows)
    return with_numbers(lambda: _take(new, checked, digest, act))


@dataclass(frozen=True, kw_only=True)
class NewBench:
    """A batch to be measured at the caliper, tyre after tyre."""

    name: str
    gauge: LoadedGauge
    reading_count: int = 3
    at_edges: bool = False
    words: Mapping[PartWord, str] = field(default_factory=dict)


@transaction.atomic
def start_bench(new: NewBench, *, act: Act) -> Batch:
    """
    Start a batch that is measured at the caliper.

    Writes an empty Batch; audits ``batch.started``.  Raises RefusedError for a
    gauge that may not be used.
    """
    refuse_gauge(new.gauge, unit=Unit.MILLIMETRE, of=_TYRE)
    batch = Batch.objects.create(
        name=new.name,
        kind=PartKind.TYRE,
        source=BatchSource.CALIPER,
        made_at=act.at,
        by=act.by,
        gauge_mode=new.gauge.mode,
        reading_count=new.reading_count,
        at_edges=new.at_edges,
        words={word.value: text for word, text in new.words.items() if text},
    )
    record_event("batch.started", subject=f"batch {batch.pk}", act=act)
    return batch


def measure_tyre(
    batch: Batch,
    row: BatchRow,
    *,
    sent_id: uuid.UUID,
    gauge: LoadedGauge,
    act: Act,
) -> Part:
    """
    Take a tyre that was measured at the caliper into stock and into its batch.

    Writes what `take_batch` writes for one row; audits ``batch.tyre_measured``.
    The same tyre sent twice is one.  Raises RefusedError for a tag that is taken or
    a gauge that may not be used; then nothing is written.
    """
    refuse_gauge(gauge, unit=Unit.MILLIMETRE, of=_TYRE)
    seed = f"bench/{batch.pk}/{sent_id}"
    before = PartReading.objects.filter(reading_id=reading_id(seed, 0, 0)).first()
    if before is not None:
        return before.estimate.part
    checked = check_rows([row], kind=PartKind.TYRE, gauge=gauge)
    refuse_wrong(checked)
    incoming = Incoming(batch=batch, checked=checked, seed=seed, gauge=gauge, act=act)
    return with_numbers(lambda: _measure(incoming))


def refuse_wrong(checked: CheckedRows) -> None:
    """Refuse rows of which one is wrong to the stock."""
    wrong = [
        (row, standing)
        for row, standing in zip(checked.rows, checked.standings, strict=True)
        if standing.standing is Standing.WRONG
    ]
    if wrong:
        row, standing = wrong[0]
        raise RefusedError(
            code="row_wrong",
            sentence=f"Row {row.number}, tag {row.tag}: {standing.sentence}",
            field="tag",
        )


def _refuse_rows(new: NewBatch, checked: CheckedRows) -> None:
    if new.gauge is not None:
        refuse_gauge(new.gauge, unit=Unit.MILLIMETRE, of=_TYRE)
    refuse_wrong(checked)
    if checked.count(Standing.SAME) == len(checked.rows):
        raise RefusedError(
            code="nothing_new",
            sentence="All of this is in stock already, with the same readings.",
        )
    if len(checked.rows) > LARGE and import_string(settings.LARGE_IMPORT_GATE)():
        raise RefusedError(
            code="hall_busy",
            sentence=f"{len(checked.rows):,} rows would make the hall wait while a "
            f"race night is open; close it first, or bring in {LARGE:,} at a time.",
        )


def _take(new: NewBatch, checked: CheckedRows, digest: str, act: Act) -> Batch:
    with transaction.atomic():
        _end_draft(new.draft_id)
        _refuse_same_file(digest)
        batch = Batch.objects.create(
            name=new.name,
            kind=new.kind,
            source=new.source,
            file_name=new.file_name,
            made_at=act.at,
            by=act.by,
            gauge_mode=new.gauge.mode if new.gauge else None,
            digest=digest,
            words={word.value: text for word, text in new.words.items() if text},
        )
        write_rows(
            Incoming(
                batch=batch, checked=checked, seed=digest, gauge=new.gauge, act=act
            )
        )
        record_event(
            "batch.taken",
            subject=f"batch {batch.pk}",
            act=act,
            rows=len(checked.rows),
            new=checked.count(Standing.NEW),
        )
    return batch


def _measure(incoming: Incoming) -> Part:
    batch, act = incoming.batch, incoming.act
    with transaction.atomic():
        # Two who measure into one batch wait for each other here.
        Batch.objects.select_for_update().get(pk=batch.pk)
        place = batch.members.count()
        (part_id,) = write_rows(replace(incoming, first_position=place))
        part = Part.objects.get(pk=part_id)
        record_event(
            "batch.tyre_measured", subject=f"batch {batch.pk}", act=act, tag=part.tag
        )
    return part


def _end_draft(draft_id: int | None) -> None:
    if draft_id is None:
        return
    ended, _ = BatchDraft.objects.filter(pk=draft_id).delete()
    if not ended:
        raise RefusedError(
            code="draft_gone",
            sentence="This file has been taken in or dropped meanwhile.",
        )


def _refuse_same_file(digest: str) -> None:
    before = Batch.objects.filter(digest=digest).first()
    if before is not None:
        raise RefusedError(
            code="same_file",
            sentence=f"All of this came in before, as batch “{before}”; give it "
            "another name if it is another bag.",
        )


def _digest(new: NewBatch, rows: Iterable[BatchRow]) -> str:
    """Hash the batch's name and all that its rows say, however it was written down."""
    said: list[object] = [new.name, new.kind]
    said += [
        [
            row.tag,
            sorted(row.words.items()),
            [[one.quantity, one.section, one.millionths] for one in row.readings],
        ]
        for row in rows
    ]
    return hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()


def _gauges(gauge: LoadedGauge | None) -> dict[PartQuantity, Gauge]:
    """Give each quantity what it was read with; without a gauge it has no own error."""
    own = compute_gauge(gauge.mode) if gauge else None
    gauges = {}
    for quantity, scale in PART_SCALES.items():
        known = own if scale.unit is Unit.MILLIMETRE else None
        gauges[quantity] = Gauge(
            known.resolution if known else 0.0,
            known.max_permissible_error if known else 0.0,
            max(known.repeatability if known else 0.0, scale.repeatability),
        )
    return gauges
