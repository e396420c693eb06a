"""A table read as a list: which column is what, and what each row says."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from inspection.compute.lists import ListKind
from inspection.files.lists.columns import COLUMNS_OF, ListColumn, column_named, plain
from inventory.files.exports import ExportTable, cell_text, typed

#: The heading stands in one of the first rows.
_HEADING_WITHIN: Final = 10
#: What a column is taken for that is not used.
NOT_USED: Final = ""


@dataclass(frozen=True, kw_only=True)
class ListLayout:
    """Where the data begin, and what each column is; by names of list columns."""

    first_row: int
    names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ListRow:
    """One row of data: its number in the file, and what it says by column."""

    number: int
    said: dict[str, str]


def guess_columns(rows: Sequence[Sequence[str]], kind: ListKind) -> ListLayout:
    """Find the heading, and take each column for what it is headed."""
    width = max(map(len, rows), default=0)
    guesses = [_named(row, kind, width) for row in rows[:_HEADING_WITHIN]]
    told = [sum(map(bool, names)) for names in guesses]
    if not any(told):
        return ListLayout(first_row=0, names=(NOT_USED,) * width)
    best = told.index(max(told))
    names = _rest_of_name(guesses[best], rows[best + 1 :])
    return ListLayout(first_row=best + 1, names=names)


def rows_of(
    rows: Sequence[Sequence[str]], layout: ListLayout, kind: ListKind
) -> Iterator[ListRow]:
    """Give the rows of data that say anything, what stands in parts joined."""
    joined = joined_columns(kind, layout.names)
    for number, row in enumerate(rows[layout.first_row :], layout.first_row + 1):
        cells = [cell_text(typed(cell)) for cell in row]
        cell_by_name = {
            name: cell
            for name, cell in zip(layout.names, cells, strict=False)
            if name and cell
        }
        for whole, parts in joined.items():
            cell = " ".join(
                cell_by_name[part.name] for part in parts if part.name in cell_by_name
            )
            if cell:
                cell_by_name[whole] = cell
        if cell_by_name:
            yield ListRow(number=number, said=cell_by_name)


def joined_columns(kind: ListKind, names: Sequence[str]) -> dict[str, list[ListColumn]]:
    """Give the columns that are there in their parts alone, and all of each's parts."""
    joined: dict[str, list[ListColumn]] = {}
    for one in COLUMNS_OF[kind]:
        if one.part_of and one.part_of not in names:
            joined.setdefault(one.part_of, []).append(one)
    return {
        whole: parts
        for whole, parts in joined.items()
        if all(part.name in names for part in parts)
    }


def columns_read(kind: ListKind, names: Sequence[str]) -> list[str]:
    """Name what rows say, by column: the joined in place of the first of its parts."""
    joined = joined_columns(kind, names)
    part_of = {one.name: one.part_of for one in COLUMNS_OF[kind]}
    read = []
    for name in names:
        whole = part_of.get(name, "")
        if not whole or whole in joined:
            read.append(whole or name)
    return [name for name in dict.fromkeys(read) if name]


def missing_columns(kind: ListKind, names: Sequence[str]) -> list[ListColumn]:
    """Name the columns without which no row can be taken."""
    there = {*names, *joined_columns(kind, names)}
    return [one for one in COLUMNS_OF[kind] if one.is_needed and one.name not in there]


def fault_of_form(kind: ListKind, row: ListRow) -> tuple[str, str] | None:
    """Tell what is missing of a row or too long in it: the column and a sentence."""
    for column in COLUMNS_OF[kind]:
        cell = row.said.get(column.name, "")
        if column.is_needed and not cell:
            return column.name, _("%(heading)s is missing.") % {
                "heading": column.heading
            }
        if len(cell) > column.most:
            says = _("“%(one)s…” is longer than %(most)s letters.") % {
                "one": cell[:20],
                "most": column.most,
            }
            return column.name, says
    return None


def template(kind: ListKind) -> ExportTable:
    """Give an empty list with its headings and a row that shows how it is filled."""
    columns = [one for one in COLUMNS_OF[kind] if not one.part_of]
    return ExportTable(
        name=kind,
        headings=[one.heading for one in columns],
        rows=[[one.example for one in columns]],
    )


def wrong_rows(
    rows: Sequence[Sequence[str]],
    layout: ListLayout,
    faults: Sequence[tuple[int, str]],
    kind: ListKind,
) -> ExportTable:
    """Give the rows that are wrong as a list of their own, with why."""
    headings = list(rows[layout.first_row - 1]) if layout.first_row else []
    width = max((len(row) for row in rows), default=0)
    headings += [""] * (width - len(headings))
    cells = [
        [*rows[number - 1], *[""] * (width - len(rows[number - 1])), sentence]
        for number, sentence in faults
    ]
    return ExportTable(name=kind, headings=[*headings, "What is wrong"], rows=cells)


def _named(row: Sequence[str], kind: ListKind, width: int) -> tuple[str, ...]:
    """Take each heading of a row for a column; each column once."""
    free = {known: one.name for one in reversed(COLUMNS_OF[kind])
            for known in one.known_by}  # fmt: skip
    names: list[str] = []
    for place in range(width):
        heading = plain(row[place]) if place < len(row) else ""
        name = free.get(heading, NOT_USED)
        names.append(NOT_USED if name in names else name)
    return tuple(names)


def _rest_of_name(
    names: tuple[str, ...], rows: Sequence[Sequence[str]]
) -> tuple[str, ...]:
    """Take “Name” beside a first name for the surname, unless it holds both."""
    if "first_name" not in names or "name" not in names or "surname" in names:
        return names
    first, whole = names.index("first_name"), names.index("name")
    both = [
        (row[first].strip().casefold(), row[whole].strip().casefold())
        for row in rows
        if max(first, whole) < len(row) and row[first].strip()
    ]
    if any(name.startswith(f"{first_name} ") for first_name, name in both):
        return names
    return tuple("surname" if name == "name" else name for name in names)


def heading_of(kind: ListKind, name: str) -> str:
    """Say what a column is, for people."""
    column = column_named(kind, name)
    return column.heading if column else ""
