"""What a draft would bring into stock, looked at before it does; writes nothing."""

from collections import Counter
from dataclasses import dataclass, field

from inventory.compute.batches import RowFault
from inventory.files.columns import (
    ColumnLayout,
    DecimalSign,
    column_letter,
    headings_of,
)
from inventory.files.exports import cell_text, typed
from inventory.files.kept_tables import layout_from_json, unpack_table
from inventory.files.roles import TAG
from inventory.files.rows import ReadRows, read_rows
from inventory.files.tables import Table
from inventory.loaders.batches import Standing, tags_in_stock
from inventory.loaders.gauges import LoadedGauge
from inventory.loaders.incoming.checked_rows import CheckedRows, batch_like, check_rows
from inventory.models import Batch, BatchDraft

SAMPLE_ROWS = 20


@dataclass(frozen=True, kw_only=True)
class SampleRow:
    """A row as the file has it; ``wrong`` are the positions of its wrong cells."""

    number: int
    cells: list[str]
    wrong: frozenset[int]


@dataclass(frozen=True, kw_only=True)
class Preview:
    """A draft as it would come in."""

    table: Table
    layout: ColumnLayout
    headings: tuple[str, ...]
    read: ReadRows
    #: All rows that could be read, and those of them that may come in.
    checked: CheckedRows
    taken: CheckedRows
    faults: list[RowFault] = field(default_factory=list)
    #: The batch in which the same sizes came in before.
    before: Batch | None = None

    @property
    def counts(self) -> dict[str, int]:
        """How many rows are new, changed, the same, wrong."""
        counted = Counter(one.standing for one in self.checked.standings)
        counts = {standing.value: counted[standing] for standing in Standing}
        counts[Standing.WRONG.value] = len({fault.number for fault in self.faults})
        return counts

    @property
    def is_asked(self) -> bool:
        """Whether something is to be said before anything can be taken."""
        return self.is_decimal_asked or self.layout.is_kind_asked

    @property
    def is_decimal_asked(self) -> bool:
        """Whether the decimal sign is to be said."""
        return self.layout.decimal is DecimalSign.ASKED

    @property
    def is_nothing_new(self) -> bool:
        """Whether all of it is in stock already, with the same readings."""
        rows = self.taken.rows
        return bool(rows) and self.taken.count(Standing.SAME) == len(rows)

    @property
    def can_be_taken(self) -> bool:
        """Whether there are rows that may come in, and nothing is to be said first."""
        return bool(self.taken.rows) and not self.is_asked

    @property
    def wrong_count(self) -> int:
        """How many rows stay out unless they are mended."""
        return len({fault.number for fault in self.faults})

    def wrong_rows(self) -> list[tuple[int, list[str], str]]:
        """Give each wrong row with its number, its cells, and what is wrong."""
        reasons: dict[int, list[str]] = {}
        for fault in self.faults:
            where = f"{fault.column}: " if fault.column else ""
            reasons.setdefault(fault.number, []).append(f"{where}{fault.sentence}")
        width = self.table.width
        return [
            (number, row + [""] * (width - len(row)), " ".join(reasons_of_row))
            for number, reasons_of_row in reasons.items()
            for row in [self.table.rows[number - 1]]
        ]

    def sample(self) -> list[SampleRow]:
        """Give the first rows of data as they stand in the file."""
        wrong: dict[int, set[str]] = {}
        for fault in self.faults:
            wrong.setdefault(fault.number, set()).add(fault.column)
        first = self.layout.first_row
        rows = self.table.rows[first : first + SAMPLE_ROWS]
        width = self.table.width
        return [
            SampleRow(
                number=number,
                cells=row + [""] * (width - len(row)),
                wrong=frozenset(
                    column
                    for column in range(width)
                    if column_letter(column) in wrong.get(number, ())
                ),
            )
            for number, row in enumerate(rows, first + 1)
        ]


def preview_draft(draft: BatchDraft, *, gauge: LoadedGauge | None) -> Preview:
    """Work out what a draft that was read would bring in."""
    kind = draft.kind
    table = unpack_table(bytes(draft.table or b""))
    layout = layout_from_json(draft.layout, kind)
    known = tags_in_stock(_tags_without_size(table, layout))
    read = read_rows(table, layout, kind, of_all=draft.words, known=known)
    checked = check_rows(read.rows, kind=kind, gauge=gauge)
    stock_faults = _stock_faults(checked, layout)
    wrong = {fault.number for fault in stock_faults}
    good = [row for row in read.rows if row.number not in wrong]
    taken = check_rows(good, kind=kind, gauge=gauge) if wrong else checked
    return Preview(
        table=table,
        layout=layout,
        headings=headings_of(table, layout.first_row),
        read=read,
        checked=checked,
        taken=taken,
        faults=sorted(read.faults + stock_faults, key=lambda fault: fault.number),
        before=batch_like(kind, good),
    )


def _tags_without_size(table: Table, layout: ColumnLayout) -> list[str]:
    """Give the tags of rows that say no size of which a part is known."""
    if TAG not in layout.roles:
        return []
    tag = layout.roles.index(TAG)
    mains = [column for column, role in enumerate(layout.roles) if role.is_main]
    return [
        typed(cell_text(row[tag]))
        for row in table.rows[layout.first_row :]
        if tag < len(row)
        and not any(cell_text(row[main]) for main in mains if main < len(row))
    ]


def _stock_faults(checked: CheckedRows, layout: ColumnLayout) -> list[RowFault]:
    column = column_letter(layout.roles.index(TAG)) if TAG in layout.roles else ""
    return [
        RowFault(
            number=row.number,
            column=column,
            value=row.tag,
            code="tag_in_stock",
            sentence=standing.sentence,
        )
        for row, standing in zip(checked.rows, checked.standings, strict=True)
        if standing.standing is Standing.WRONG
    ]
