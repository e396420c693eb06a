"""
Which kind of part the rows of a table are, by what its columns say.

A file of gears is never taken for tyres: what two kinds may be is asked, not guessed.
"""

from inventory.compute.numbers import Unit
from inventory.compute.stock import KINDS, PartKind
from inventory.files.columns import (
    HEADING_ROWS,
    column_cells,
    guess_layout,
    headings_of,
    number_of,
    plausible_mm,
    role_by_heading,
    words_of,
)
from inventory.files.roles import NOT_USED, OF_EVERY_PART, is_numbering
from inventory.files.tables import Table


def guess_kind(table: Table) -> PartKind | None:
    """
    Guess of which kind the parts of a table are.

    What only one kind has over its columns tells it before any number does: twelve
    volts are no tyre of twelve millimetres, and no teeth.  None where two kinds are as
    likely, or where a column of whole numbers may be a count that the likely kind does
    not have: that is asked, not guessed.
    """
    told = [kind for kind in KINDS if _is_told(table, kind)]
    if len(told) == 1:
        return told[0]
    telling = {kind: _telling(table, kind) for kind in KINDS}
    best = max(telling.values())
    likely = [kind for kind, count in telling.items() if count == best]
    if not best or len(likely) > 1 or _may_be_counts(table, likely[0]):
        return None
    return likely[0]


def _is_told(table: Table, kind: PartKind) -> bool:
    first_row = guess_layout(table, kind).first_row
    words = words_of(" ".join(headings_of(table, first_row)))
    return bool(words & KINDS[kind].told_by)


def _telling(table: Table, kind: PartKind) -> int:
    """Count what in a table is of one kind: columns that only it knows, its words."""
    layout = guess_layout(table, kind)
    roles = set(layout.roles)
    has_main = any(
        role.is_main and _holds_plausible(table, layout.first_row, column, kind)
        for column, role in enumerate(layout.roles)
    )
    if KINDS[kind].is_sized and not has_main:
        return 0
    required = {fact.name for fact in KINDS[kind].fact_list if fact.is_count}
    fact_names = {role.fact.name for role in roles if role.fact is not None}
    if not KINDS[kind].is_sized and not required & fact_names:
        return 0
    own = [r for r in roles if r not in OF_EVERY_PART and not r.is_main]
    words = words_of(" ".join(headings_of(table, layout.first_row)))
    return len(own) + has_main + 2 * bool(words & _kind_words(kind))


def _kind_words(kind: PartKind) -> frozenset[str]:
    declared = KINDS[kind]
    sets = [
        fact.words for fact in declared.fact_list if fact.is_required and fact.words
    ]
    return frozenset(
        {kind.value, declared.plural}
        | {word.value for words in sets for word in words}
        | {f"{word.value}s" for words in sets for word in words}
    )


def _may_be_counts(table: Table, kind: PartKind) -> bool:
    layout = guess_layout(table, kind)
    counts = [
        fact
        for declared in KINDS.values()
        for fact in declared.fact_list
        if fact.is_count and fact.is_required and declared.kind is not kind
    ]
    for column, role in enumerate(layout.roles):
        cells = column_cells(table, layout.first_row, column)
        if role is not NOT_USED or not cells or is_numbering(cells):
            continue
        if any(all(map(fact.is_likely, cells)) for fact in counts):
            return True
    return False


def _holds_plausible(table: Table, first_row: int, column: int, kind: PartKind) -> bool:
    """Tell whether the heading or most of the cells are of the size of a kind."""
    above = table.rows[max(first_row - HEADING_ROWS, 0) : first_row]
    if role_by_heading(above, column, kind).is_main:
        return True
    main = KINDS[kind].main
    low, high = main.plausible or plausible_mm(kind)
    inch = 25.4 if main.unit is Unit.MILLIMETRE else 1.0
    values = [number_of(cell) for cell in column_cells(table, first_row, column)]
    sizes = [value for value in values if value is not None]
    fit = sum(low <= value <= high or low <= value * inch <= high for value in sizes)
    return 2 * fit > len(values)
