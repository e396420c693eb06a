"""
What each column of a table is taken for, by its heading and by its numbers.

Everything here is a guess that a page shows before anything is kept; a person may
say otherwise.  What could be read two ways is not guessed but asked.
"""

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice
from typing import Final

from inventory.compute.batches import is_worked_out
from inventory.compute.numbers import (
    NumberError,
    Unit,
    parse_reading,
    slip_of_the_decimal,
)
from inventory.compute.stock import KINDS, PartKind
from inventory.files.exports import cell_text
from inventory.files.roles import (
    NAME,
    NOT_USED,
    ColumnRole,
    main_role,
    role_of_words,
    role_said,
    role_shown,
)
from inventory.files.tables import Table


class LengthUnit(StrEnum):
    """What a length without a mark is in."""

    MILLIMETRE = "mm"
    INCH = "in"


class DecimalSign(StrEnum):
    """Which sign divides a number's whole part from the rest."""

    POINT = "point"
    COMMA = "comma"
    EITHER = "either"
    ASKED = "asked"


#: Sizes that a tyre can have, unless said.
PLAUSIBLE_MM: Final = (8.0, 32.0)
HEADING_ROWS = 20
_SAMPLE_ROWS = 500

_TOLD: Final = frozenset[str]().union(*(one.told_by for one in KINDS.values()))
_INCH_WORDS: Final = frozenset({"in", "inch", "inches", '"', "″"})


@dataclass(frozen=True, kw_only=True)
class ColumnLayout:
    """
    How a table is read.

    ``first_row`` is the position of the first row of data; what stands above is
    heading.  ``low_mm`` and ``high_mm`` are how small and large a part can be, where
    it is known by a length.  ``shape`` is the same for tables with the same headings;
    ``is_kind_asked`` where it is to be said what the parts are, and ``is_kept`` where
    all this was said of such a table before.  ``parts`` are positions of rows that
    look like a sum or a mean and are parts all the same.
    """

    first_row: int
    roles: tuple[ColumnRole, ...]
    unit: LengthUnit = LengthUnit.MILLIMETRE
    decimal: DecimalSign = DecimalSign.POINT
    low_mm: float = PLAUSIBLE_MM[0]
    high_mm: float = PLAUSIBLE_MM[1]
    shape: str = ""
    is_kind_asked: bool = False
    is_kept: bool = False
    parts: tuple[int, ...] = ()


def guess_layout(table: Table, kind: PartKind) -> ColumnLayout:
    """Guess how a table of parts is to be read."""
    first_row = _first_row(table, kind)
    roles = _roles(table, first_row, kind)
    low, high = plausible_mm(kind)
    return ColumnLayout(
        first_row=first_row,
        roles=roles,
        unit=_unit(table, first_row, roles, kind),
        decimal=decimal_of(table, first_row, roles),
        low_mm=low,
        high_mm=high,
        shape=shape_of(table, first_row),
    )


def shape_of(table: Table, first_row: int) -> str:
    """Give one text for all tables that have the same headings; none for no heading."""
    headings = [heading.casefold() for heading in headings_of(table, first_row)]
    if not any(headings):
        return ""
    return hashlib.sha256("\x1f".join(headings).encode()).hexdigest()


def plausible_mm(kind: PartKind) -> tuple[float, float]:
    """Say how small and how large parts of a kind can be that have a length."""
    main = KINDS[kind].main
    known = main.plausible if main.unit is Unit.MILLIMETRE else None
    return known or PLAUSIBLE_MM


def headings_of(table: Table, first_row: int) -> tuple[str, ...]:
    """Give each column's heading: what stands over its first number, in one line."""
    above = table.rows[max(first_row - HEADING_ROWS, 0) : first_row]
    return tuple(
        " ".join(dict.fromkeys(filter(None, (_cell(row, column) for row in above))))
        for column in range(table.width)
    )


def unit_marks_of(table: Table, layout: ColumnLayout) -> tuple[str, ...]:
    """Give each column the mark that a length without one has there."""
    marks = []
    for heading in headings_of(table, layout.first_row):
        words = words_of(heading)
        if words & _INCH_WORDS:
            marks.append(LengthUnit.INCH.value)
        elif "mm" in words:
            marks.append(LengthUnit.MILLIMETRE.value)
        else:
            marks.append(layout.unit.value)
    return tuple(marks)


def decimal_of(
    table: Table, first_row: int, roles: Sequence[ColumnRole]
) -> DecimalSign:
    """Find the decimal sign of the number columns; both in one file are asked about."""
    commas = points = False
    for cell in _cells_of(table, first_row, roles, lambda role: role.size is not None):
        # Of a remark among the sizes no sign counts.
        if cell[-1].isdigit() or cell[0].isdigit():
            commas |= "," in cell
            points |= "." in cell
    if commas and points:
        return DecimalSign.ASKED
    return DecimalSign.COMMA if commas else DecimalSign.POINT


def column_letter(column: int) -> str:
    """Name a column as a spreadsheet does."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def column_number(letters: str) -> int:
    """Give the position of a column that `column_letter` named."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def _first_row(table: Table, kind: PartKind) -> int:
    """
    Find the first row of data: the one behind the headings.

    A row of data that is wrong must not pass for a heading: it would be lost without
    a word.  So what stands above the first likely size is heading only as far as its
    words are known, or where none is known, as no cell begins like a number.
    """
    sample = table.rows[:_SAMPLE_ROWS]
    numbers = [
        column
        for column in range(table.width)
        if _share(_is_number(_cell(row, column)) for row in sample[1:]) > 0.5
    ]
    heading = None
    for position, row in enumerate(sample[:HEADING_ROWS]):
        if _holds_likely(row, numbers, kind):
            break
        if _is_heading(row, kind):
            heading = position
    if heading is None:
        is_above: Callable[[Sequence[str]], bool] = _begins_without_number
        first = 0
    else:
        is_above, first = _is_below_heading, heading + 1
    while first < len(sample) - 1 and not _holds_likely(sample[first], numbers, kind):
        if not is_above(sample[first]):
            break
        first += 1
    return first


def _holds_likely(row: Sequence[str], numbers: Iterable[int], kind: PartKind) -> bool:
    cells = [cell for column in numbers if (cell := _cell(row, column))]
    return bool(cells) and 2 * sum(_is_likely(cell, kind) for cell in cells) >= len(
        cells
    )


def _is_heading(row: Sequence[str], kind: PartKind) -> bool:
    cells = [cell.strip() for cell in row if cell.strip()]
    known = [role_said(words_of(cell), kind) is not None for cell in cells]
    helping = sum(map(_is_of_heading, cells))
    return any(known) and 2 * (sum(known) + helping) >= len(cells)


def _is_below_heading(row: Sequence[str]) -> bool:
    """Tell whether a row says units, or numbers the readings."""
    cells = [cell.strip() for cell in row if cell.strip()]
    return bool(cells) and all(map(_is_of_heading, cells))


def _is_of_heading(cell: str) -> bool:
    if re.search(r"\d", cell):
        return bool(re.fullmatch(r"\d{1,2}\.?", cell))
    words = words_of(cell)
    return bool(words) and words <= _INCH_WORDS | {"mm", "shore", "rpm", "ω"}


def _begins_without_number(row: Sequence[str]) -> bool:
    return not any(re.match(r"\s*[+\-−.,]?\d", cell) for cell in row)


def _roles(table: Table, first_row: int, kind: PartKind) -> tuple[ColumnRole, ...]:
    above = table.rows[max(first_row - HEADING_ROWS, 0) : first_row]
    roles = [role_by_heading(above, column, kind) for column in range(table.width)]
    _say_by_words(roles, table, first_row, kind)
    for column, role in enumerate(roles):
        if role is NOT_USED and not _is_said_otherwise(above, column):
            cells = column_cells(table, first_row, column)
            roles[column] = role_shown(cells, kind, roles) or NOT_USED
    has_main = any(role.is_main for role in roles)
    for column, role in enumerate(roles):
        if role not in {NOT_USED, NAME} or _is_said_otherwise(above, column):
            continue
        if not holds_sizes(table, first_row, column, kind):
            continue
        if not has_main:
            roles[column] = main_role(kind)
        elif column and _is_nameless(above, column):
            # “Readings” over the first of three columns is meant for all three.
            left = roles[column - 1]
            roles[column] = left if left.is_main else role
    if not above and NOT_USED in roles:
        # Without a heading the first column of words is what the parts are called.
        roles[roles.index(NOT_USED)] = NAME
    return tuple(_once(roles))


def _say_by_words(
    roles: list[ColumnRole], table: Table, first_row: int, kind: PartKind
) -> None:
    """Let the words under a heading say what it is, where it may be several facts."""
    for column, role in enumerate(roles):
        if role.fact is None:
            continue
        said = role_of_words(column_cells(table, first_row, column), kind)
        if said is not None and said not in roles:
            roles[column] = said


def _is_said_otherwise(above: Sequence[list[str]], column: int) -> bool:
    is_told = _is_told(above, column)
    return is_told or any(is_worked_out(words_of(_cell(row, column))) for row in above)


def _is_told(above: Sequence[list[str]], column: int) -> bool:
    """Tell whether a heading says what nothing is kept of: volts are no size."""
    return any(words_of(_cell(row, column)) & _TOLD for row in above)


def _is_nameless(above: Sequence[list[str]], column: int) -> bool:
    return not any(words_of(_cell(row, column)) for row in above)


def role_by_heading(
    above: Sequence[list[str]], column: int, kind: PartKind
) -> ColumnRole:
    """Give what a column's heading says: the nearest to the numbers that says it."""
    # The heading next to the numbers says the most; a title above says little.
    for row in reversed(above):
        words = words_of(_cell(row, column))
        if is_worked_out(words):
            return NOT_USED
        if role := role_said(words, kind):
            return role
    return NOT_USED


def _once(roles: Iterable[ColumnRole]) -> Iterator[ColumnRole]:
    """Let only readings have several columns; of others the first is taken."""
    seen: set[ColumnRole] = set()
    for role in roles:
        yield role if role.size is not None or role not in seen else NOT_USED
        seen.add(role)


def holds_sizes(table: Table, first_row: int, column: int, kind: PartKind) -> bool:
    """Tell whether most cells of a column may be sizes of a kind."""
    cells = column_cells(table, first_row, column)
    return _share(_is_likely(cell, kind) for cell in cells) > 0.5


def column_cells(table: Table, first_row: int, column: int) -> list[str]:
    """Give what stands in a column, the empty cells left out."""
    return [
        cell
        for row in table.rows[first_row : first_row + _SAMPLE_ROWS]
        if (cell := _cell(row, column))
    ]


def _unit(
    table: Table, first_row: int, roles: Sequence[ColumnRole], kind: PartKind
) -> LengthUnit:
    """Take bare sizes for inches only where most can be nothing else."""
    if KINDS[kind].main.unit is not Unit.MILLIMETRE:
        return LengthUnit.MILLIMETRE
    low, high = plausible_mm(kind)
    inches = millimetres = 0
    cells = _cells_of(table, first_row, roles, lambda role: role.is_main)
    for cell in islice(cells, _SAMPLE_ROWS):
        value = number_of(cell)
        if value is not None:
            millimetres += low <= value <= high
            inches += low <= value * 25.4 <= high
    return LengthUnit.INCH if inches > millimetres else LengthUnit.MILLIMETRE


def _cells_of(
    table: Table,
    first_row: int,
    roles: Sequence[ColumnRole],
    is_wanted: Callable[[ColumnRole], bool],
) -> Iterator[str]:
    columns = [place for place, role in enumerate(roles) if is_wanted(role)]
    for row in table.rows[first_row:]:
        for column in columns:
            if cell := _cell(row, column):
                yield cell


def _is_likely(cell: str, kind: PartKind) -> bool:
    value = number_of(cell)
    if value is None:
        return False
    if KINDS[kind].main.unit is not Unit.MILLIMETRE:
        return value > 0
    low, high = plausible_mm(kind)
    # A whole number is no size in inches: it numbers the readings.
    is_inch = value != int(value) and low <= value * 25.4 <= high
    slipped = slip_of_the_decimal(value, low=low, high=high)
    return low <= value <= high or is_inch or (slipped is not None and value > high)


def number_of(cell: str) -> float | None:
    """Read a cell as a number, whatever it is of."""
    try:
        return parse_reading(cell, unit=Unit.MILLIMETRE).value
    except NumberError:
        return None


def _is_number(cell: str) -> bool:
    return bool(re.fullmatch(r"\s*[+−-]?\d+(?:[.,]\d+)?\s*(?:mm|in|\")?\s*", cell))


def _share(answers: Iterable[bool]) -> float:
    held = list(answers)
    return sum(held) / len(held) if held else 0.0


def _cell(row: Sequence[str], column: int) -> str:
    return cell_text(row[column]) if column < len(row) else ""


def words_of(heading: str) -> frozenset[str]:
    """Give a heading's words without the numbers that count them: “Ø 2” is “ø”."""
    return frozenset(re.findall(r"[^\W\d_]+|[\"″⌀]", heading.casefold()))
