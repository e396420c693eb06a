"""
A table's rows as parts, and every row that is none with its reason.

Nothing is corrected and nothing left out: a wrong cell is named by row and column,
with what stands there and what was expected.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final, NamedTuple

from inventory.compute.batch_rows import BatchReading, BatchRow, PartWord, RowFault
from inventory.compute.stock import PartKind, PartQuantity, Section
from inventory.compute.suspects import slip_of_the_decimal
from inventory.compute.units import NumberError, Unit, format_value, parse_reading
from inventory.files.columns import (
    MAIN_ROLES,
    PLAUSIBLE,
    UNIT_OF,
    ColumnRole,
    DecimalSign,
    Layout,
    column_letter,
    unit_marks_of,
)
from inventory.files.formulas import typed
from inventory.files.marks import Mark
from inventory.files.tables import Table

_QUANTITY: Final[Mapping[ColumnRole, tuple[PartQuantity, Section]]] = {
    ColumnRole.DIAMETER: (PartQuantity.TYRE_DIAMETER, Section.MIDDLE),
    ColumnRole.INNER: (PartQuantity.TYRE_DIAMETER, Section.INNER),
    ColumnRole.OUTER: (PartQuantity.TYRE_DIAMETER, Section.OUTER),
    ColumnRole.WIDTH: (PartQuantity.TYRE_WIDTH, Section.MIDDLE),
    ColumnRole.OUT_OF_ROUND: (PartQuantity.OUT_OF_ROUND, Section.MIDDLE),
    ColumnRole.TAPER: (PartQuantity.TAPER, Section.MIDDLE),
    ColumnRole.HARDNESS: (PartQuantity.TYRE_HARDNESS, Section.MIDDLE),
    ColumnRole.SPEED: (PartQuantity.MOTOR_SPEED, Section.MIDDLE),
    ColumnRole.RESISTANCE: (PartQuantity.MOTOR_RESISTANCE, Section.MIDDLE),
}
_WORD: Final[Mapping[ColumnRole, PartWord]] = {
    ColumnRole.NAME: PartWord.NAME,
    ColumnRole.COMPOUND: PartWord.COMPOUND,
    ColumnRole.WIDTH_CODE: PartWord.WIDTH_CODE,
    ColumnRole.WHEEL: PartWord.WHEEL,
    ColumnRole.FAMILY: PartWord.FAMILY,
    ColumnRole.DRAWER: PartWord.DRAWER,
}
_MOST_LETTERS: Final[Mapping[ColumnRole, int]] = {
    ColumnRole.NAME: 80,
    ColumnRole.COMPOUND: 30,
    ColumnRole.WIDTH_CODE: 20,
    ColumnRole.WHEEL: 30,
    ColumnRole.FAMILY: 30,
    ColumnRole.DRAWER: 40,
}
_MAY_BE_ZERO: Final = frozenset({ColumnRole.TAPER, ColumnRole.OUT_OF_ROUND})
_DATE: Final = re.compile(r"\d{4}-\d{2}-\d{2}|\d{2}:\d{2}:\d{2}")
#: A tag stands in addresses and on labels.
_TAG: Final = re.compile(r"[^\s/\\?#%]{1,12}")
_SPOKEN_FOR: Final = frozenset({"labels", "new"})
_STAND_IN: Final = "\N{REPLACEMENT CHARACTER}"


@dataclass(frozen=True, kw_only=True)
class ReadRows:
    """The rows that are parts, those that are wrong, and how many are empty."""

    rows: list[BatchRow]
    faults: list[RowFault]
    empty_count: int
    formula_count: int


class _Reason(NamedTuple):
    code: str
    sentence: str


class _CellError(Exception):
    def __init__(self, sentence: str, *, code: str) -> None:
        super().__init__(sentence)
        self.reason = _Reason(code, sentence)


def read_rows(table: Table, layout: Layout, kind: PartKind) -> ReadRows:
    """Read a table by its layout; every fault of every row in one pass."""
    reader = _Reader(table, layout, kind)
    rows = list(reader.read())
    formulas = sum(
        mark is Mark.FORMULA and layout_role(layout, place[1]) in UNIT_OF
        for place, mark in table.marks.items()
        if place[0] >= layout.first_row
    )
    return ReadRows(
        rows=rows,
        faults=reader.faults,
        empty_count=reader.empty_count,
        formula_count=formulas,
    )


def layout_role(layout: Layout, column: int) -> ColumnRole:
    """Give a column's role; one beyond the layout is not used."""
    return layout.roles[column] if column < len(layout.roles) else ColumnRole.NOT_USED


class _Reader:
    def __init__(self, table: Table, layout: Layout, kind: PartKind) -> None:
        self.table, self.layout, self.kind = table, layout, kind
        self.faults: list[RowFault] = []
        self.empty_count = 0
        self._marks = unit_marks_of(table, layout)
        self._known: dict[tuple[ColumnRole, str, str], BatchReading | _Reason] = {}
        self._rows_of_tags: dict[str, int] = {}
        self._used = [
            (column, role)
            for column, role in enumerate(layout.roles)
            if role is not ColumnRole.NOT_USED
        ]

    def read(self) -> Iterator[BatchRow]:
        for position in range(self.layout.first_row, len(self.table.rows)):
            row = self.table.rows[position]
            if not any(cell.strip() for cell in row):
                self.empty_count += 1
                continue
            before = len(self.faults)
            read = self._row(position, row)
            if len(self.faults) == before:
                yield read

    def _row(self, position: int, row: Sequence[str]) -> BatchRow:
        tag = ""
        words: dict[PartWord, str] = {}
        readings: list[BatchReading] = []
        has_main = False
        for column, role in self._used:
            cell = row[column].strip() if column < len(row) else ""
            try:
                if self.table.marks:
                    self._refuse_marked(position, column, role, cell)
                if not cell:
                    continue
                if role in UNIT_OF:
                    readings.append(self._reading(role, cell, self._marks[column]))
                    has_main |= role in MAIN_ROLES[self.kind]
                elif role is ColumnRole.TAG:
                    tag = self._tag(position, typed(cell))
                else:
                    words[_WORD[role]] = _word(role, typed(cell))
            except _CellError as error:
                has_main |= role in MAIN_ROLES[self.kind]
                self._fault(position, column_letter(column), cell, error.reason)
        if not has_main:
            what = "diameter" if self.kind is PartKind.TYRE else "no-load speed"
            sentence = f"the row has no {what}; one reading at least is expected."
            self._fault(position, "", "", _Reason("no_reading", sentence))
        return BatchRow(
            number=position + 1,
            tag=tag,
            words=MappingProxyType(words),
            readings=tuple(readings),
        )

    def _fault(self, position: int, column: str, value: str, reason: _Reason) -> None:
        shown = value if len(value) <= 40 else f"{value[:39]}…"
        self.faults.append(
            RowFault(
                number=position + 1,
                column=column,
                value="".join(c if c.isprintable() else _STAND_IN for c in shown),
                code=reason.code,
                sentence=reason.sentence,
            )
        )

    def _refuse_marked(
        self, position: int, column: int, role: ColumnRole, cell: str
    ) -> None:
        mark = self.table.marks.get((position, column))
        if mark is Mark.LONG:
            text = "the cell holds more than 200 characters; a value or a few words do."
            raise _CellError(text, code="long_cell")
        if mark is Mark.ERROR:
            text = "the spreadsheet shows an error here; expected a value."
            raise _CellError(text, code="error_cell")
        if mark is Mark.FORMULA and not cell:
            text = (
                "a formula without a stored value; open and save the file in a "
                "spreadsheet, or put the value in its place."
            )
            raise _CellError(text, code="formula")
        if mark is Mark.MERGED and (role in UNIT_OF or role is ColumnRole.TAG):
            text = "merged cells give one value to several rows; split them."
            raise _CellError(text, code="merged")

    def _reading(self, role: ColumnRole, cell: str, unit_mark: str) -> BatchReading:
        key = role, cell, unit_mark
        known = self._known.get(key)
        if known is None:
            try:
                known = self._parsed(role, cell, unit_mark)
            except _CellError as error:
                known = error.reason
            self._known[key] = known
        if isinstance(known, _Reason):
            raise _CellError(known.sentence, code=known.code)
        return known

    def _parsed(self, role: ColumnRole, cell: str, unit_mark: str) -> BatchReading:
        if _DATE.search(cell):
            text = "a spreadsheet has made a date or a time of it; expected a value."
            raise _CellError(text, code="date")
        self._refuse_decimal(cell)
        unit = UNIT_OF[role]
        bare = unit_mark if unit is Unit.MILLIMETRE else ""
        try:
            number = parse_reading(cell, unit=unit, bare_mark=bare)
        except NumberError as error:
            raise _CellError(str(error), code=error.code) from error
        self._refuse_size(role, number.value)
        quantity, section = _QUANTITY[role]
        return BatchReading(
            quantity=quantity,
            section=section,
            millionths=number.millionths,
            text=cell,
            mark=number.mark or (bare if bare == "in" else ""),
        )

    def _refuse_decimal(self, cell: str) -> None:
        # Where both occur nothing is refused here: the file as a whole is asked about.
        sign = self.layout.decimal
        other = {DecimalSign.POINT: ",", DecimalSign.COMMA: "."}.get(sign)
        if other is not None and other in cell:
            text = f"the file's decimal sign is a {sign}, and here stands “{other}”."
            raise _CellError(text, code="decimal_sign")

    def _refuse_size(self, role: ColumnRole, value: float) -> None:
        unit = UNIT_OF[role]
        if value < 0 and role is not ColumnRole.TAPER:
            text = "a size is not below 0."
            raise _CellError(text, code="negative")
        if value == 0 and role not in _MAY_BE_ZERO:
            text = "a size is above 0."
            raise _CellError(text, code="zero")
        is_size = role in MAIN_ROLES[PartKind.TYRE]
        plausible = (
            (self.layout.low_mm, self.layout.high_mm)
            if is_size
            else PLAUSIBLE.get(role)
        )
        if plausible is None or plausible[0] <= round(value, 6) <= plausible[1]:
            return
        low, high = plausible
        text = f"read as {value:g} {unit.symbol}; expected {low:g} to {high:g}."
        meant = slip_of_the_decimal(value, low=low, high=high, unit=unit)
        if meant is not None:
            said = format_value(meant, decimals=2, unit=unit)
            text = f"{text[:-1]}, {said} perhaps."
        raise _CellError(text, code="implausible")

    def _tag(self, position: int, cell: str) -> str:
        if not _TAG.fullmatch(cell) or not cell.isprintable() or cell in _SPOKEN_FOR:
            text = (
                "a tag has at most 12 letters, digits or signs, without blanks "
                "and without / \\ ? # %."
            )
            raise _CellError(text, code="bad_tag")
        if (earlier := self._rows_of_tags.get(cell)) is not None:
            text = f"row {earlier} has this tag already."
            raise _CellError(text, code="tag_twice")
        self._rows_of_tags[cell] = position + 1
        return cell


def _word(role: ColumnRole, cell: str) -> str:
    most = _MOST_LETTERS[role]
    if len(cell) > most:
        text = f"{len(cell)} letters; at most {most} are kept of a {role}."
        raise _CellError(text, code="long_word")
    if not cell.isprintable():
        text = "it holds a sign that cannot be printed."
        raise _CellError(text, code="unprintable")
    return cell


def with_words(
    rows: Sequence[BatchRow], words: Mapping[PartWord, str]
) -> list[BatchRow]:
    """Give rows what is said of the whole batch, where they say nothing themselves."""
    said = {word: text for word, text in words.items() if text}
    if not said:
        return list(rows)
    return [replace(row, words=MappingProxyType({**said, **row.words})) for row in rows]
