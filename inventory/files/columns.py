"""
What each column of a table is taken for, by its heading and by its numbers.

Everything here is a guess that a page shows before anything is kept; a person may
say otherwise.  What could be read two ways is not guessed but asked.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice
from typing import Final

from inventory.compute.stock import PartKind
from inventory.compute.suspects import slip_of_the_decimal
from inventory.compute.units import NumberError, Unit, parse_reading
from inventory.files.tables import Table


class ColumnRole(StrEnum):
    """What stands in a column."""

    NOT_USED = "not used"
    TAG = "tag"
    NAME = "name"
    COMPOUND = "compound"
    WIDTH_CODE = "width code"
    WHEEL = "wheel"
    FAMILY = "family"
    DRAWER = "drawer"
    DIAMETER = "diameter"
    INNER = "diameter at the inner edge"
    OUTER = "diameter at the outer edge"
    WIDTH = "width"
    OUT_OF_ROUND = "out of round"
    TAPER = "taper"
    HARDNESS = "hardness"
    SPEED = "no-load speed"
    RESISTANCE = "resistance"


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


ROLES_OF: Final[Mapping[PartKind, tuple[ColumnRole, ...]]] = {
    PartKind.TYRE: (
        ColumnRole.NOT_USED,
        ColumnRole.TAG,
        ColumnRole.NAME,
        ColumnRole.DIAMETER,
        ColumnRole.INNER,
        ColumnRole.OUTER,
        ColumnRole.WIDTH,
        ColumnRole.OUT_OF_ROUND,
        ColumnRole.TAPER,
        ColumnRole.HARDNESS,
        ColumnRole.COMPOUND,
        ColumnRole.WIDTH_CODE,
        ColumnRole.WHEEL,
        ColumnRole.DRAWER,
    ),
    PartKind.MOTOR: (
        ColumnRole.NOT_USED,
        ColumnRole.TAG,
        ColumnRole.NAME,
        ColumnRole.SPEED,
        ColumnRole.RESISTANCE,
        ColumnRole.FAMILY,
        ColumnRole.DRAWER,
    ),
}
UNIT_OF: Final[Mapping[ColumnRole, Unit]] = {
    ColumnRole.DIAMETER: Unit.MILLIMETRE,
    ColumnRole.INNER: Unit.MILLIMETRE,
    ColumnRole.OUTER: Unit.MILLIMETRE,
    ColumnRole.WIDTH: Unit.MILLIMETRE,
    ColumnRole.OUT_OF_ROUND: Unit.MILLIMETRE,
    ColumnRole.TAPER: Unit.MILLIMETRE,
    ColumnRole.HARDNESS: Unit.SHORE_A,
    ColumnRole.SPEED: Unit.RPM,
    ColumnRole.RESISTANCE: Unit.OHM,
}
#: The columns that a row must have a number in.
MAIN_ROLES: Final[Mapping[PartKind, frozenset[ColumnRole]]] = {
    PartKind.TYRE: frozenset({ColumnRole.DIAMETER, ColumnRole.INNER, ColumnRole.OUTER}),
    PartKind.MOTOR: frozenset({ColumnRole.SPEED}),
}
#: Sizes that a tyre can have, unless said; of a motor, those that any has.
PLAUSIBLE_MM: Final = (8.0, 32.0)
PLAUSIBLE: Final[Mapping[ColumnRole, tuple[float, float]]] = {
    ColumnRole.SPEED: (1_000.0, 200_000.0),
    ColumnRole.RESISTANCE: (0.01, 100.0),
    ColumnRole.HARDNESS: (1.0, 100.0),
    ColumnRole.WIDTH: (1.0, 60.0),
}
_HEADING_ROWS = 20
_SAMPLE_ROWS = 500

#: Words of a heading, the most telling roles first.
_WORDS: Final[tuple[tuple[ColumnRole, frozenset[str]], ...]] = (
    (ColumnRole.TAG, frozenset({"tag"})),
    (ColumnRole.OUT_OF_ROUND, frozenset({"round", "oor", "ovality"})),
    (ColumnRole.TAPER, frozenset({"taper", "cone"})),
    (ColumnRole.HARDNESS, frozenset({"hardness", "shore", "durometer"})),
    (ColumnRole.WIDTH_CODE, frozenset({"code"})),
    (ColumnRole.WIDTH, frozenset({"width", "wide"})),
    (ColumnRole.COMPOUND, frozenset({"compound", "rubber", "mix"})),
    (ColumnRole.WHEEL, frozenset({"wheel", "rim", "wheels"})),
    (ColumnRole.DRAWER, frozenset({"drawer", "box", "bin"})),
    (ColumnRole.FAMILY, frozenset({"family", "type", "kind"})),
    (ColumnRole.SPEED, frozenset({"rpm", "speed", "revs"})),
    (ColumnRole.RESISTANCE, frozenset({"ohm", "ohms", "resistance", "ω", "mω"})),
    (ColumnRole.INNER, frozenset({"inner", "inside"})),
    (ColumnRole.OUTER, frozenset({"outer"})),
    (
        ColumnRole.DIAMETER,
        frozenset(
            {"diameter", "dia", "diam", "ø", "⌀", "size", "od", "reading", "readings"}
            | {"middle", "centre", "d", "r", "angle", "measured", "outside"}
        ),
    ),
    (
        ColumnRole.NAME,
        frozenset(
            {"name", "mark", "no", "nr", "number", "id", "tyre", "tire", "motor"}
        ),
    ),
)
_WORKED_OUT: Final = frozenset({"mean", "average", "avg", "range", "spread", "pair"})
_INCH_WORDS: Final = frozenset({"in", "inch", "inches", '"', "″"})


@dataclass(frozen=True, kw_only=True)
class Layout:
    """
    How a table is read.

    ``first_row`` is the position of the first row of data; what stands above is
    heading.  ``low_mm`` and ``high_mm`` are the sizes that a tyre here can have.
    """

    first_row: int
    roles: tuple[ColumnRole, ...]
    unit: LengthUnit = LengthUnit.MILLIMETRE
    decimal: DecimalSign = DecimalSign.POINT
    low_mm: float = PLAUSIBLE_MM[0]
    high_mm: float = PLAUSIBLE_MM[1]


def guess_layout(table: Table, kind: PartKind) -> Layout:
    """Guess how a table of parts is to be read."""
    first_row = _first_row(table, kind)
    roles = _roles(table, first_row, kind)
    return Layout(
        first_row=first_row,
        roles=roles,
        unit=_unit(table, first_row, roles),
        decimal=decimal_of(table, first_row, roles),
    )


def headings_of(table: Table, first_row: int) -> tuple[str, ...]:
    """Give each column's heading: what stands over its first number, in one line."""
    above = table.rows[max(first_row - _HEADING_ROWS, 0) : first_row]
    return tuple(
        " ".join(dict.fromkeys(filter(None, (_cell(row, column) for row in above))))
        for column in range(table.width)
    )


def unit_marks_of(table: Table, layout: Layout) -> tuple[str, ...]:
    """Give each column the mark that a length without one has there."""
    marks = []
    for heading in headings_of(table, layout.first_row):
        words = _words(heading)
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
    for cell in _cells_of(table, first_row, roles, UNIT_OF.keys()):
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
    for position, row in enumerate(sample[:_HEADING_ROWS]):
        if _holds_likely(row, numbers, kind):
            break
        if _is_heading(row, ROLES_OF[kind]):
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


def _is_heading(row: Sequence[str], allowed: Iterable[ColumnRole]) -> bool:
    cells = [cell.strip() for cell in row if cell.strip()]
    known = [bool(_roles_said(cell, allowed)) for cell in cells]
    helping = sum(map(_is_of_heading, cells))
    return any(known) and 2 * (sum(known) + helping) >= len(cells)


def _is_below_heading(row: Sequence[str]) -> bool:
    """Tell whether a row says units, or numbers the readings."""
    cells = [cell.strip() for cell in row if cell.strip()]
    return bool(cells) and all(map(_is_of_heading, cells))


def _is_of_heading(cell: str) -> bool:
    if re.search(r"\d", cell):
        return bool(re.fullmatch(r"\d{1,2}\.?", cell))
    words = _words(cell)
    return bool(words) and words <= _INCH_WORDS | {"mm", "shore", "rpm", "ω"}


def _begins_without_number(row: Sequence[str]) -> bool:
    return not any(re.match(r"\s*[+\-−.,]?\d", cell) for cell in row)


def _roles_said(cell: str, allowed: Iterable[ColumnRole]) -> list[ColumnRole]:
    words = _words(cell)
    return [role for role, said in _WORDS if words & said and role in set(allowed)]


def _roles(table: Table, first_row: int, kind: PartKind) -> tuple[ColumnRole, ...]:
    allowed = ROLES_OF[kind]
    above = table.rows[max(first_row - _HEADING_ROWS, 0) : first_row]
    roles = [_role(above, column, allowed) for column in range(table.width)]
    has_main = bool(MAIN_ROLES[kind] & set(roles))
    main = ColumnRole.DIAMETER if kind is PartKind.TYRE else ColumnRole.SPEED
    for column, role in enumerate(roles):
        if role not in {ColumnRole.NOT_USED, ColumnRole.NAME}:
            continue
        if not _holds_sizes(table, first_row, column, kind):
            continue
        if not has_main:
            roles[column] = main
        elif column and _is_nameless(above, column):
            # “Readings” over the first of three columns is meant for all three.
            left = roles[column - 1]
            roles[column] = left if left in MAIN_ROLES[kind] else role
    if not above and ColumnRole.NOT_USED in roles:
        # Without a heading the first column of words is what the parts are called.
        roles[roles.index(ColumnRole.NOT_USED)] = ColumnRole.NAME
    return tuple(_once(roles))


def _is_nameless(above: Sequence[list[str]], column: int) -> bool:
    return not any(_words(_cell(row, column)) for row in above)


def _role(
    above: Sequence[list[str]], column: int, allowed: Iterable[ColumnRole]
) -> ColumnRole:
    # The heading next to the numbers says the most; a title above says little.
    for row in reversed(above):
        words = _words(_cell(row, column))
        if words & _WORKED_OUT:
            return ColumnRole.NOT_USED
        if said := _roles_said(_cell(row, column), allowed):
            return said[0]
    return ColumnRole.NOT_USED


def _once(roles: Iterable[ColumnRole]) -> Iterator[ColumnRole]:
    """Let only readings have several columns; of others the first is taken."""
    seen: set[ColumnRole] = set()
    for role in roles:
        yield role if role in UNIT_OF or role not in seen else ColumnRole.NOT_USED
        seen.add(role)


def _holds_sizes(table: Table, first_row: int, column: int, kind: PartKind) -> bool:
    cells = [
        cell
        for row in table.rows[first_row : first_row + _SAMPLE_ROWS]
        if (cell := _cell(row, column))
    ]
    return _share(_is_likely(cell, kind) for cell in cells) > 0.5


def _unit(table: Table, first_row: int, roles: Sequence[ColumnRole]) -> LengthUnit:
    """Take bare sizes for inches only where most can be nothing else."""
    low, high = PLAUSIBLE_MM
    inches = millimetres = 0
    cells = _cells_of(table, first_row, roles, MAIN_ROLES[PartKind.TYRE])
    for cell in islice(cells, _SAMPLE_ROWS):
        value = _number(cell)
        if value is not None:
            millimetres += low <= value <= high
            inches += low <= value * 25.4 <= high
    return LengthUnit.INCH if inches > millimetres else LengthUnit.MILLIMETRE


def _cells_of(
    table: Table,
    first_row: int,
    roles: Sequence[ColumnRole],
    wanted: Iterable[ColumnRole],
) -> Iterator[str]:
    looked_at = frozenset(wanted)
    columns = [place for place, role in enumerate(roles) if role in looked_at]
    for row in table.rows[first_row:]:
        for column in columns:
            if cell := _cell(row, column):
                yield cell


def _is_likely(cell: str, kind: PartKind) -> bool:
    value = _number(cell)
    if value is None:
        return False
    if kind is PartKind.MOTOR:
        return value > 0
    low, high = PLAUSIBLE_MM
    # A whole number is no size in inches: it numbers the readings.
    is_inch = value != int(value) and low <= value * 25.4 <= high
    slipped = slip_of_the_decimal(value, low=low, high=high)
    return low <= value <= high or is_inch or (slipped is not None and value > high)


def _number(cell: str) -> float | None:
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
    return row[column].strip() if column < len(row) else ""


def _words(heading: str) -> frozenset[str]:
    """Give a heading's words without the numbers that count them: “Ø 2” is “ø”."""
    return frozenset(re.findall(r"[^\W\d_]+|[\"″⌀]", heading.casefold()))
