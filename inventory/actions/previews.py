"""What a draft would bring into stock, looked at before it does; writes nothing."""

from collections import Counter
from dataclasses import dataclass, field

from inventory.actions.batches import NewBatch, check_rows
from inventory.actions.incoming import CheckedRows
from inventory.compute.batch_rows import PartWord, RowFault
from inventory.compute.batch_words import BatchSource
from inventory.compute.stock import PartKind
from inventory.files.columns import (
    ColumnRole,
    DecimalSign,
    Layout,
    column_letter,
    headings_of,
)
from inventory.files.kept_tables import layout_from_json, unpack_table
from inventory.files.rows import ReadRows, read_rows
from inventory.files.tables import Table
from inventory.loaders.batches import Standing
from inventory.loaders.gauges import LoadedGauge
from inventory.models import BatchDraft

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
    layout: Layout
    headings: tuple[str, ...]
    read: ReadRows
    checked: CheckedRows
    faults: list[RowFault] = field(default_factory=list)

    @property
    def counts(self) -> dict[str, int]:
        """How many rows are new, changed, the same, wrong."""
        counted = Counter(one.standing for one in self.checked.standings)
        counts = {standing.value: counted[standing] for standing in Standing}
        counts[Standing.WRONG.value] = len({fault.number for fault in self.faults})
        return counts

    @property
    def is_asked(self) -> bool:
        """Whether the decimal sign is to be said before anything can be taken."""
        return self.layout.decimal is DecimalSign.ASKED

    @property
    def can_be_taken(self) -> bool:
        """Whether there are rows, and nothing against any of them."""
        return bool(self.read.rows) and not self.faults and not self.is_asked

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
    kind = PartKind(draft.kind)
    table = unpack_table(bytes(draft.table or b""))
    layout = layout_from_json(draft.layout)
    read = read_rows(table, layout, kind)
    checked = check_rows(read.rows, kind=kind, gauge=gauge)
    faults = read.faults + _stock_faults(checked, layout)
    return Preview(
        table=table,
        layout=layout,
        headings=headings_of(table, layout.first_row),
        read=read,
        checked=checked,
        faults=sorted(faults, key=lambda fault: fault.number),
    )


def batch_of_draft(draft: BatchDraft, *, gauge: LoadedGauge | None) -> NewBatch:
    """Give the batch that a draft would become."""
    return NewBatch(
        name=draft.name,
        kind=PartKind(draft.kind),
        source=BatchSource(draft.source),
        file_name=draft.file_name,
        gauge=gauge,
        words={PartWord(word): text for word, text in draft.words.items()},
        draft_id=draft.pk,
    )


def _stock_faults(checked: CheckedRows, layout: Layout) -> list[RowFault]:
    column = (
        column_letter(layout.roles.index(ColumnRole.TAG))
        if ColumnRole.TAG in layout.roles
        else ""
    )
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
