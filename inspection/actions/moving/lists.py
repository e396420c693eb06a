"""Lists by which a club moves in: read, tried, looked at, all taken or not at all."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.moving.taking_rows import AlreadyHereError, take_row
from inspection.actions.night_sums import keep_night_sums
from inspection.compute.lists import ListKind
from inspection.files.lists.columns import column_named
from inspection.files.lists.reading import (
    ListLayout,
    ListRow,
    fault_of_form,
    guess_columns,
    missing_columns,
    rows_of,
)
from inspection.loaders.history.night_sums import nights_to_keep
from inspection.models import ListDraft
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.files.kept_tables import pack_table, unpack_table
from inventory.files.refused import FileRefusedError
from inventory.files.tables import read_table

MOST_ROWS: Final = 5000
#: A list that nobody took is thrown away after this.
KEPT_FOR: Final = dt.timedelta(days=7)


@dataclass
class Tried:
    """What became of the rows of a list: taken, left out for being here, wrong."""

    taken: int = 0
    here: list[tuple[int, str]] = field(default_factory=list)
    faults: list[tuple[int, str, str]] = field(default_factory=list)


@transaction.atomic
def bring_list(
    kind: ListKind, content: bytes, *, file_name: str, act: Act
) -> ListDraft:
    """
    Keep a list until somebody has looked at what would come of it.

    Writes a ListDraft, deletes those of long ago; audits ``list.uploaded``.  Raises
    RefusedError for a file that is no table or has too many rows.
    """
    try:
        table = read_table(content)
    except FileRefusedError as error:
        raise RefusedError.because(error, field="file") from error
    if len(table.rows) > MOST_ROWS:
        raise RefusedError(
            code="too_many_rows",
            sentence=_(
                "The list has %(n)s rows; at most %(most_rows)s come in at once: split "
                "it."
            )
            % {"n": f"{len(table.rows):,}", "most_rows": f"{MOST_ROWS:,}"},
            field="file",
        )
    ListDraft.objects.filter(made_at__lt=act.at - KEPT_FOR).delete()
    layout = guess_columns(table.rows, kind)
    draft = ListDraft(
        kind=kind,
        file_name=file_name[:120],
        table=pack_table(table),
        columns=list(layout.names),
        first_row=layout.first_row,
        by=act.by,
        made_at=act.at,
    )
    _try(draft, act)
    draft.save()
    record_event("list.uploaded", subject=draft, act=act, kind=kind)
    return draft


@transaction.atomic
def say_list_columns(
    draft_id: int, names: list[str], *, first_row: int, act: Act
) -> ListDraft:
    """
    Say what the columns of a list are, and try it again.

    Writes the ListDraft; audits ``list.columns_said``.  Raises RefusedError for a
    column that there is not, or one that is said twice.
    """
    draft = _draft(draft_id)
    kind = draft.kind
    used = [name for name in names if name]
    for name in used:
        column = column_named(kind, name)
        if column is None or used.count(name) > 1:
            says = column.heading if column else name
            raise RefusedError(
                code="column_twice",
                sentence=_("“%(says)s” is one column; it was said of %(what)s.")
                % {
                    "says": says,
                    "what": used.count(name) if column else _("none that there is"),
                },
            )
    draft.columns, draft.first_row = names, max(first_row, 0)
    _try(draft, act)
    draft.save()
    record_event("list.columns_said", subject=draft, act=act)
    return draft


@transaction.atomic
def take_list(draft_id: int, *, leave_out_wrong: bool, act: Act) -> Tried:
    """
    Take a list in: all its rows, or all but the wrong ones where that is said.

    Writes what each row says by the action of its kind, deletes the ListDraft; audits
    ``list.taken``.  Raises RefusedError where rows are wrong and are not to be left
    out, or where none is left.
    """
    draft = _draft(draft_id)
    tried = _take(draft, act)
    if tried.faults and not leave_out_wrong:
        raise RefusedError(
            code="rows_wrong",
            sentence=_("%(n)s rows are wrong; nothing was taken.")
            % {"n": len(tried.faults)},
        )
    if not tried.taken:
        raise RefusedError(
            code="nothing_to_take",
            sentence=_("The list has no row that is new and right."),
        )
    while nights_to_keep(1):
        keep_night_sums()
    record_event(
        "list.taken", subject=draft, act=act, kind=draft.kind, rows=tried.taken
    )
    draft.delete()
    return tried


@transaction.atomic
def drop_list(draft_id: int, *, act: Act) -> None:
    """
    Throw a list away of which nothing was taken.

    Deletes the ListDraft; audits ``list.dropped``.
    """
    draft = _draft(draft_id)
    record_event("list.dropped", subject=draft, act=act)
    draft.delete()


def rows_in(draft: ListDraft) -> list[ListRow]:
    """Give the rows of data of a list.  Writes nothing."""
    layout = ListLayout(first_row=draft.first_row, names=tuple(draft.columns))
    rows = unpack_table(bytes(draft.table)).rows
    return list(rows_of(rows, layout, draft.kind))


def _draft(draft_id: int) -> ListDraft:
    draft = ListDraft.objects.select_for_update().filter(pk=draft_id).first()
    if draft is None:
        raise RefusedError(
            code="list_gone", sentence=_("This list was taken or thrown away already.")
        )
    return draft


def _try(draft: ListDraft, act: Act) -> None:
    """Take the rows and take it all back: what that says is what taking them would."""
    if missing_columns(draft.kind, draft.columns):
        draft.good_count, draft.here, draft.faults = 0, [], []
        return
    with transaction.atomic():
        tried = _take(draft, act)
        transaction.set_rollback(True)
    draft.good_count, draft.here, draft.faults = (
        tried.taken,
        [list(one) for one in tried.here],
        [list(one) for one in tried.faults],
    )


def _take(draft: ListDraft, act: Act) -> Tried:
    kind, tried = draft.kind, Tried()
    for row in rows_in(draft):
        try:
            if wrong := fault_of_form(kind, row):
                name, sentence = wrong
                raise RefusedError(code="row_wrong", sentence=sentence, field=name)
            with transaction.atomic():
                take_row(kind, row.said, act=act)
        except RefusedError as refusal:
            tried.faults.append((row.number, refusal.field, refusal.sentence))
        except AlreadyHereError as here:
            tried.here.append((row.number, str(here)))
        else:
            tried.taken += 1
    return tried
