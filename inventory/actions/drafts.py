"""Files on their way in: uploaded, read in a process of their own, looked at."""

import datetime as dt
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.batches import BatchSource, DraftState
from inventory.compute.stock import PartKind
from inventory.files import limits
from inventory.files.columns import ColumnLayout, DecimalSign, guess_layout
from inventory.files.kept_tables import layout_from_json, layout_to_json, pack_table
from inventory.files.kinds import guess_kind
from inventory.files.refused import FileRefusedError
from inventory.files.tables import Table, read_table
from inventory.loaders.gauges import LoadedGauge
from inventory.models import BatchDraft, TableShape
from inventory.words.numbers import error_words

#: A draft that nobody took is thrown away after this.
KEPT_FOR: Final = dt.timedelta(days=7)
#: A reading that has not been heard of for so long has ended with its server.
SILENT_FOR: Final = dt.timedelta(seconds=20)
_HEARD_EVERY_S: Final = 0.5


@dataclass(frozen=True, kw_only=True)
class NewDraft:
    """
    A file, or what was pasted, and what is said of all its parts.

    Without a ``kind`` the file is looked at for what its parts are.
    """

    name: str
    content: bytes
    kind: PartKind | None = None
    source: BatchSource = BatchSource.FILE
    file_name: str = ""
    gauge: LoadedGauge | None = None
    words: Mapping[str, str] = field(default_factory=dict)


class _DraftGoneError(Exception):
    """It was dropped while it was read."""


@transaction.atomic
def upload_draft(new: NewDraft, *, act: Act) -> BatchDraft:
    """
    Keep a file until somebody has looked at what it says.

    Writes a BatchDraft and deletes those of long ago; audits ``batch.uploaded``.
    Raises RefusedError for an empty or too large file.
    """
    size = len(new.content)
    if not size or size > limits.BYTES:
        how_much = f"{size / limits.MIB:.1f} MB" if size else _("nothing")
        raise RefusedError(
            code="large_file" if size else "empty_file",
            sentence=_("There is %(said)s in it; expected a table of at most %(n)s MB.")
            % {"said": how_much, "n": limits.BYTES // limits.MIB},
            field="file" if new.source is BatchSource.FILE else "table",
        )
    BatchDraft.objects.filter(made_at__lt=act.at - KEPT_FOR).delete()
    draft = BatchDraft.objects.create(
        name=new.name,
        kind=new.kind or "",
        source=new.source,
        file_name=new.file_name[:120],
        content=new.content,
        by=act.by,
        made_at=act.at,
        gauge_mode=new.gauge.mode if new.gauge else None,
        words={word: text for word, text in new.words.items() if text},
    )
    record_event(
        "batch.uploaded", subject=f"draft {draft.pk}", act=act, file=draft.file_name
    )
    return draft


def read_draft(draft_id: int, *, act: Act) -> None:
    """
    Read a draft's file; how far it is can be seen meanwhile.

    Only one reads it.  Writes the BatchDraft: its table and the layout guessed, or
    why it is refused; audits ``batch.file_read``.
    """
    now = timezone.now()
    unread = Q(state=DraftState.WAITING) | Q(
        state=DraftState.READING, heard_at__lt=now - SILENT_FOR
    )
    claimed = BatchDraft.objects.filter(unread, pk=draft_id).update(
        state=DraftState.READING, heard_at=now, rows_read=0, rows_in_all=0
    )
    if not claimed:
        return
    draft = BatchDraft.objects.get(pk=draft_id)
    try:
        table = read_table(
            bytes(draft.content),
            sheet=draft.sheet,
            divider=draft.divider,
            on_progress=_Heard(draft_id),
        )
    except FileRefusedError as refused:
        _keep_refusal(draft, refused, act)
    except _DraftGoneError:
        return
    else:
        _keep_table(draft, table, act)


@transaction.atomic
def say_columns(draft: BatchDraft, layout: ColumnLayout, *, act: Act) -> None:
    """
    Say what a draft's columns are.

    Writes the BatchDraft's layout; audits ``batch.columns_said``.
    """
    BatchDraft.objects.filter(pk=draft.pk).update(layout=layout_to_json(layout))
    record_event("batch.columns_said", subject=f"draft {draft.pk}", act=act)


@transaction.atomic
def say_kind(draft: BatchDraft, table: Table, kind: PartKind, *, act: Act) -> None:
    """
    Say what kind of part the rows of a draft are.

    Writes the BatchDraft's kind and what its columns are taken for then; audits
    ``batch.columns_said``.
    """
    layout = layout_to_json(guess_layout(table, kind))
    BatchDraft.objects.filter(pk=draft.pk).update(kind=kind, layout=layout)
    record_event("batch.columns_said", subject=f"draft {draft.pk}", act=act)


@transaction.atomic
def mend_rows(
    draft: BatchDraft,
    table: Table,
    cells: Mapping[tuple[int, int], str],
    parts: Iterable[int],
    *,
    act: Act,
) -> None:
    """
    Mend cells of a draft, and say which rows are parts though they look like sums.

    ``cells`` by position of row and column.  Writes the BatchDraft's table and
    layout; audits ``batch.rows_mended``.
    """
    rows = [list(row) for row in table.rows]
    for (row, column), text in cells.items():
        rows[row] += [""] * (column + 1 - len(rows[row]))
        rows[row][column] = text
    marks = {place: mark for place, mark in table.marks.items() if place not in cells}
    kept = layout_from_json(draft.layout, draft.kind)
    kept = replace(kept, parts=tuple(sorted({*kept.parts, *parts})))
    BatchDraft.objects.filter(pk=draft.pk).update(
        table=pack_table(replace(table, rows=rows, marks=marks)),
        layout=layout_to_json(kept),
    )
    record_event(
        "batch.rows_mended", subject=f"draft {draft.pk}", act=act, cells=len(cells)
    )


@transaction.atomic
def read_again(
    draft: BatchDraft, *, act: Act, sheet: str = "", divider: str = ""
) -> None:
    """
    Have a draft's file read again, another sheet of it or divided by another sign.

    Writes the BatchDraft back to waiting; audits ``batch.read_again``.
    """
    BatchDraft.objects.filter(pk=draft.pk).exclude(state=DraftState.READING).update(
        state=DraftState.WAITING, sheet=sheet, divider=divider, table=None, layout={}
    )
    record_event("batch.read_again", subject=f"draft {draft.pk}", act=act)


@transaction.atomic
def drop_draft(draft_id: int, *, act: Act) -> None:
    """
    Throw a draft away; a reading of it ends.

    Deletes the BatchDraft; audits ``batch.dropped``.
    """
    BatchDraft.objects.filter(pk=draft_id).delete()
    record_event("batch.dropped", subject=f"draft {draft_id}", act=act)


class _Heard:
    """Write down how far the reading is, twice a second; stop it when dropped."""

    def __init__(self, draft_id: int) -> None:
        self._draft_id = draft_id
        self._at = -1.0

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if self._at >= 0 and now - self._at < _HEARD_EVERY_S:
            return
        self._at = now
        kept = BatchDraft.objects.filter(
            pk=self._draft_id, state=DraftState.READING
        ).update(rows_read=done, rows_in_all=total, heard_at=timezone.now())
        if not kept:
            raise _DraftGoneError


def _keep_table(draft: BatchDraft, table: Table, act: Act) -> None:
    kind, layout = _layout(draft, table)
    packed = pack_table(table)
    with transaction.atomic():
        BatchDraft.objects.filter(pk=draft.pk).update(
            state=DraftState.READ,
            kind=kind,
            table=packed,
            layout=layout_to_json(layout),
            rows_read=len(table.rows),
            rows_in_all=len(table.rows),
            sheet=table.facts.sheet[:120],
            divider=table.facts.divider,
            refusal="",
        )
        record_event(
            "batch.file_read",
            subject=f"draft {draft.pk}",
            act=act,
            rows=len(table.rows),
        )


def _layout(draft: BatchDraft, table: Table) -> tuple[PartKind, ColumnLayout]:
    """Take a table as one with its headings was taken before, else guess."""
    guessed = guess_kind(table)
    kind = draft.kind or guessed or PartKind.TYRE
    layout = guess_layout(table, kind)
    kept = TableShape.objects.filter(shape=layout.shape).first()
    if layout.shape and kept is not None and draft.kind in {"", kept.kind}:
        kind = kept.kind
        before, now = layout_from_json(kept.layout, kind), guess_layout(table, kind)
        asked = now.decimal is DecimalSign.ASKED
        decimal = before.decimal if asked else now.decimal
        return kind, replace(
            before,
            first_row=now.first_row,
            decimal=decimal,
            is_kept=True,
            # Rows are those of one file alone.
            parts=(),
        )
    is_asked = guessed is not kind and not (draft.kind and guessed is None)
    return kind, replace(layout, is_kind_asked=is_asked)


@transaction.atomic
def _keep_refusal(draft: BatchDraft, refused: FileRefusedError, act: Act) -> None:
    BatchDraft.objects.filter(pk=draft.pk).update(
        state=DraftState.REFUSED, refusal=error_words(refused)[:300]
    )
    record_event(
        "batch.file_read", subject=f"draft {draft.pk}", act=act, refused=refused.code
    )
