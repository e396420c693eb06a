"""Batches: parts that come in together, from a table or at the caliper."""

import hashlib
import json
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.module_loading import import_string
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.gauges import refuse_gauge
from inventory.actions.incoming import (
    Incoming,
    reading_id,
    with_numbers,
    write_rows,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.batches import (
    BatchRow,
    BatchSource,
)
from inventory.compute.numbers import Unit
from inventory.compute.stock import PartKind
from inventory.loaders.batches import Standing
from inventory.loaders.gauges import LoadedGauge
from inventory.loaders.incoming.checked_rows import CheckedRows, check_rows, content_of
from inventory.models import Batch, BatchDraft, Part, PartReading, TableShape

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
    words: Mapping[str, str] = field(default_factory=dict)
    draft_id: int | None = None
    #: Rows of its table that were wrong and stay out.
    left_out: int = 0
    #: Somebody was asked whether it is a bag that came in before, and said no.
    is_another: bool = False


def batch_of_draft(
    draft: BatchDraft,
    *,
    gauge: LoadedGauge | None,
    left_out: int = 0,
    is_another: bool = False,
) -> NewBatch:
    """Give the batch that a draft would become."""
    return NewBatch(
        name=draft.name,
        kind=draft.kind,
        source=draft.source,
        file_name=draft.file_name,
        gauge=gauge,
        words=draft.words,
        draft_id=draft.pk,
        left_out=left_out,
        is_another=is_another,
    )


def take_batch(new: NewBatch, checked: CheckedRows, *, act: Act) -> Batch:
    """
    Take a table of parts into stock: every row, or none.

    Writes a Batch and its BatchParts; for each row whose tag is new a Part with its
    facts and first PartMove; for each that says something new a PartEstimate
    a quantity (the current one is superseded) and a PartReading a value; deletes the
    draft and keeps what its columns were as a TableShape; audits ``batch.taken``.
    Raises RefusedError for a row that is wrong, a table that says nothing new or came
    in before, a gauge that may not be used, or more than 5,000 rows while the hall is
    busy; then nothing is written.
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
    words: Mapping[str, str] = field(default_factory=dict)


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
        words={word: text for word, text in new.words.items() if text},
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
            sentence=_("Row %(row)s, tag %(tag)s: %(sentence)s")
            % {"row": row.number, "tag": row.tag, "sentence": standing.sentence},
            field="tag",
        )


def _refuse_rows(new: NewBatch, checked: CheckedRows) -> None:
    if new.gauge is not None:
        refuse_gauge(new.gauge, unit=Unit.MILLIMETRE, of=f"a {new.kind}")
    refuse_wrong(checked)
    if checked.count(Standing.SAME) == len(checked.rows):
        raise RefusedError(
            code="nothing_new",
            sentence=_("All of this is in stock already, with the same readings."),
        )
    if len(checked.rows) > LARGE and import_string(settings.LARGE_IMPORT_GATE)():
        raise RefusedError(
            code="hall_busy",
            sentence=_(
                "%(n)s rows would make the hall wait while a race night is open; close "
                "it first, or bring in %(large)s at a time."
            )
            % {"n": f"{len(checked.rows):,}", "large": f"{LARGE:,}"},
        )


def _take(new: NewBatch, checked: CheckedRows, digest: str, act: Act) -> Batch:
    with transaction.atomic():
        _end_draft(new.draft_id, act)
        content = content_of(new.kind, checked.rows)
        _refuse_known(digest, "" if new.is_another else content)
        batch = Batch.objects.create(
            name=new.name,
            kind=new.kind,
            source=new.source,
            file_name=new.file_name,
            made_at=act.at,
            by=act.by,
            gauge_mode=new.gauge.mode if new.gauge else None,
            digest=digest,
            content=content,
            words={word: text for word, text in new.words.items() if text},
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
            left_out=new.left_out,
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


def _end_draft(draft_id: int | None, act: Act) -> None:
    if draft_id is None:
        return
    for kind, layout in BatchDraft.objects.filter(pk=draft_id).values_list(
        "kind", "layout"
    ):
        if shape := layout.get("shape"):
            TableShape.objects.update_or_create(
                shape=shape,
                defaults={
                    "kind": kind,
                    "layout": layout,
                    "said_at": act.at,
                    "by": act.by,
                },
            )
    ended, _rows = BatchDraft.objects.filter(pk=draft_id).delete()
    if not ended:
        raise RefusedError(
            code="draft_gone",
            sentence=_("This file has been taken in or dropped meanwhile."),
        )


def _refuse_known(digest: str, content: str) -> None:
    """Refuse a file that came in before; where its content is given, a bag as well."""
    is_known = Q(digest=digest)
    if content:
        is_known |= Q(content=content)
    # Looked up at one moment: the same file, come in meanwhile, is the same bag too.
    known = list(Batch.objects.filter(is_known))
    files = [before for before in known if before.digest == digest]
    if files:
        raise _same_file(files[0])
    if known:
        raise _same_bag(known[0])


def _same_file(before: Batch) -> RefusedError:
    return RefusedError(
        code="same_file",
        sentence=_(
            "All of this came in before, as batch “%(before)s”; give it another name "
            "if it is another bag."
        )
        % {"before": before},
    )


def _same_bag(before: Batch) -> RefusedError:
    return RefusedError(
        code="same_bag",
        sentence=_(
            "Parts with just these sizes came in on %(made_at)s as batch “%(before)s”; "
            "say whether this is another bag."
        )
        % {
            "made_at": date_format(timezone.localtime(before.made_at), "j M Y"),
            "before": before,
        },
        field="is_another",
    )


def _digest(new: NewBatch, rows: Iterable[BatchRow]) -> str:
    """Hash the batch's name and all that its rows say, however it was written down."""
    content: list[object] = [new.name, new.kind]
    content += [
        [
            row.tag,
            sorted(row.words.items()),
            [[one.quantity, one.section, one.millionths] for one in row.readings],
        ]
        for row in rows
    ]
    return hashlib.sha256(
        json.dumps(content, separators=(",", ":")).encode()
    ).hexdigest()
