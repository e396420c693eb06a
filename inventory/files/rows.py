"""
A table's rows as parts, and every row that is none with its reason.

Nothing is corrected and nothing left out: a wrong cell is named by row and column,
with what stands there and what was expected.
"""

import datetime as dt
import re
from collections.abc import Container, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, NamedTuple

from django.utils.translation import gettext as _

from inventory.compute.batches import (
    BatchReading,
    BatchRow,
    RowFault,
    worked_out_word,
)
from inventory.compute.numbers import (
    NumberError,
    Unit,
    find_strange,
    format_value,
    parse_reading,
)
from inventory.compute.stock import (
    KINDS,
    Fact,
    Least,
    NotAFactError,
    PartKind,
    Size,
)
from inventory.files.columns import (
    ColumnLayout,
    DecimalSign,
    column_letter,
    unit_marks_of,
)
from inventory.files.exports import cell_text, typed
from inventory.files.marks import Mark
from inventory.files.roles import DATE, NOT_USED, TAG, ColumnRole
from inventory.files.tables import Table
from inventory.words.alternatives import one_or_other
from inventory.words.numbers import error_words

#: How days are written; where two of them may be meant it is asked.
_DAYS: Final = ("%Y-%m-%d", "%d.%m.%Y", "%d %B %Y", "%d %b %Y", "%d/%m/%Y", "%m/%d/%Y")
_DATE: Final = re.compile(r"\d{4}-\d{2}-\d{2}|\d{2}:\d{2}:\d{2}")
#: A tag stands in addresses and on labels.
_TAG: Final = re.compile(r"[^\s/\\?#%]{1,12}")
_SPOKEN_FOR: Final = frozenset({"labels", "new"})
#: The fault of a row that is asked about.
SUM_ROW: Final = "sum_row"
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


def read_rows(
    table: Table,
    layout: ColumnLayout,
    kind: PartKind,
    *,
    of_all: Mapping[str, str] = MappingProxyType({}),
    known: Container[str] = frozenset(),
) -> ReadRows:
    """
    Read a table by its layout; every fault of every row in one pass.

    ``of_all`` are facts of all the parts, for rows that do not say them; ``known`` are
    the tags of parts of which a row need not say a size.
    """
    reader = _Reader(table, layout, kind, of_all, known)
    rows = list(reader.read())
    formulas = sum(
        mark is Mark.FORMULA and layout_role(layout, place[1]).size is not None
        for place, mark in table.marks.items()
        if place[0] >= layout.first_row
    )
    return ReadRows(
        rows=rows,
        faults=reader.faults,
        empty_count=reader.empty_count,
        formula_count=formulas,
    )


def layout_role(layout: ColumnLayout, column: int) -> ColumnRole:
    """Give a column's role; one beyond the layout is not used."""
    return layout.roles[column] if column < len(layout.roles) else NOT_USED


class _Reader:
    def __init__(
        self,
        table: Table,
        layout: ColumnLayout,
        kind: PartKind,
        of_all: Mapping[str, str],
        known: Container[str],
    ) -> None:
        self.table, self.layout, self.declared = table, layout, KINDS[kind]
        self._said, self._tags_known = of_all, known
        self.faults: list[RowFault] = []
        self.empty_count = 0
        self._marks = unit_marks_of(table, layout)
        self._known: dict[tuple[ColumnRole, str, str], BatchReading | _Reason] = {}
        self._rows_of_tags: dict[str, int] = {}
        self._used = [
            (column, role)
            for column, role in enumerate(layout.roles)
            if role is not NOT_USED
        ]

        self._columns = {
            role.fact.name: column_letter(column)
            for column, role in self._used
            if role.fact is not None
        }
        mains = (column_letter(column) for column, role in self._used if role.is_main)
        self._main = next(mains, "")

    def read(self) -> Iterator[BatchRow]:
        for position in range(self.layout.first_row, len(self.table.rows)):
            row = self.table.rows[position]
            if not any(map(cell_text, row)):
                self.empty_count += 1
                continue
            if position not in self.layout.parts and (word := worked_out_word(row)):
                text = _(
                    "worked out of other rows, it seems; is it a part all the same?"
                )
                self._fault(position, "", word, _Reason(SUM_ROW, text))
                continue
            before = len(self.faults)
            read = self._row(position, row)
            if len(self.faults) == before:
                yield read

    def _row(self, position: int, row: Sequence[str]) -> BatchRow:
        tag = ""
        words: dict[str, str] = {}
        readings: list[BatchReading] = []
        has_main = False
        for column, role in self._used:
            cell = cell_text(row[column]) if column < len(row) else ""
            try:
                if self.table.marks:
                    self._refuse_marked(position, column, role, cell)
                if not cell:
                    continue
                if role.size is not None:
                    readings.append(self._reading(role, cell, self._marks[column]))
                    has_main |= role.is_main
                elif role is DATE:
                    words["read_on"] = day_said(typed(cell)).isoformat()
                elif role.fact is not None:
                    words[role.fact.name] = _word(role.name, role.fact, typed(cell))
                else:
                    tag = self._tag(position, typed(cell))
            except _CellError as error:
                has_main |= role.is_main
                self._fault(position, column_letter(column), cell, error.reason)
        if self.declared.is_sized and not has_main and tag not in self._tags_known:
            sentence = _(
                "the row has no %(what)s; one reading at least is expected."
            ) % {"what": _(self.declared.main.name)}
            self._fault(position, self._main, "", _Reason("no_reading", sentence))
        self._check_facts(position, {**self._said, **words})
        return BatchRow(
            number=position + 1,
            tag=tag,
            words=MappingProxyType(words),
            readings=tuple(readings),
        )

    def _check_facts(self, position: int, words: Mapping[str, str]) -> None:
        for fact in self.declared.fact_list:
            name = fact.name.replace("_", " ")
            if fact.is_required and not words.get(fact.name):
                sentence = _("the row has no %(what)s; it is expected of each.") % {
                    "what": _(name)
                }
                column = self._columns.get(fact.name, "")
                self._fault(position, column, "", _Reason("no_fact", sentence))
            if fact.only_of is not None and words.get(fact.name):
                other, value = fact.only_of
                if words.get(other, "").strip().casefold() != value:
                    text = words[fact.name]
                    self._fault(position, "", text, _Reason("only_of", _(fact.refusal)))

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
            text = _(
                "the cell holds more than 200 characters; a value or a few words do."
            )
            raise _CellError(text, code="long_cell")
        if mark is Mark.ERROR:
            text = _("the spreadsheet shows an error here; expected a value.")
            raise _CellError(text, code="error_cell")
        if mark is Mark.FORMULA and not cell:
            text = _(
                "a formula without a stored value; open and save the file in a "
                "spreadsheet, or put the value in its place."
            )
            raise _CellError(text, code="formula")
        if mark is Mark.MERGED and (role.size is not None or role is TAG):
            text = _("merged cells give one value to several rows; split them.")
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
        size = _size(role)
        if _DATE.search(cell):
            text = _("a spreadsheet has made a date or a time of it; expected a value.")
            raise _CellError(text, code="date")
        self._refuse_decimal(cell)
        unit = size.unit
        bare = unit_mark if unit is Unit.MILLIMETRE else ""
        try:
            number = parse_reading(cell, unit=unit, bare_mark=bare)
        except NumberError as error:
            raise _CellError(error_words(error), code=error.code) from error
        self._refuse_size(role, size, number.value)
        return BatchReading(
            quantity=size.quantity,
            section=role.section,
            millionths=number.millionths,
            text=cell,
            mark=number.mark or (bare if bare == "in" else ""),
        )

    def _refuse_decimal(self, cell: str) -> None:
        # Where both occur nothing is refused here: the file as a whole is asked about.
        sign = self.layout.decimal
        other = {DecimalSign.POINT: ",", DecimalSign.COMMA: "."}.get(sign)
        if other is not None and other in cell:
            text = _(
                "the file's decimal sign is a %(sign)s, and here stands “%(other)s”."
            ) % {"sign": _("comma") if other == "." else _("point"), "other": other}
            raise _CellError(text, code="decimal_sign")

    def _refuse_size(self, role: ColumnRole, size: Size, value: float) -> None:
        unit = size.unit
        if value < 0 and size.least is not Least.BELOW_ZERO:
            text = _("a size is not below 0.")
            raise _CellError(text, code="negative")
        if value == 0 and size.least is Least.ABOVE_ZERO:
            text = _("a size is above 0.")
            raise _CellError(text, code="zero")
        plausible = (
            (self.layout.low_mm, self.layout.high_mm)
            if role.is_main and unit is Unit.MILLIMETRE
            else size.plausible
        )
        odd = find_strange(value, unit=unit, plausible=plausible)
        if odd is None or odd.plausible is None:
            return
        low, high = odd.plausible
        filled_in = {
            "value": f"{value:g} {unit.symbol}",
            "low": f"{low:g}",
            "high": f"{high:g}",
        }
        text = _("read as %(value)s; expected %(low)s to %(high)s.") % filled_in
        if odd.meant is not None:
            filled_in["meant"] = format_value(odd.meant, decimals=2, unit=unit)
            text = (
                _("read as %(value)s; expected %(low)s to %(high)s, %(meant)s perhaps.")
                % filled_in
            )
        raise _CellError(text, code="implausible")

    def _tag(self, position: int, cell: str) -> str:
        if not _TAG.fullmatch(cell) or not cell.isprintable() or cell in _SPOKEN_FOR:
            text = _(
                "a tag has at most 12 letters, digits or signs, without blanks "
                "and without / \\ ? # %."
            )
            raise _CellError(text, code="bad_tag")
        if (earlier := self._rows_of_tags.get(cell)) is not None:
            text = _("row %(row)s has this tag already.") % {"row": earlier}
            raise _CellError(text, code="tag_twice")
        self._rows_of_tags[cell] = position + 1
        return cell


def day_said(cell: str) -> dt.date:
    """Read a day; one that may be two days, or has not come yet, is refused."""
    text = cell.removesuffix(" 00:00:00").removesuffix("T00:00:00")
    days = set()
    for form in _DAYS:
        with suppress(ValueError):
            days.add(dt.datetime.strptime(text, form).replace(tzinfo=dt.UTC).date())
    if len(days) > 1:
        choices = one_or_other(sorted(day.isoformat() for day in days))
        msg = _("this may be %(choices)s; write it so.") % {"choices": choices}
        raise _CellError(msg, code="two_days")
    if not days:
        msg = _("no day; expected one as 2026-05-12.")
        raise _CellError(msg, code="not_a_day")
    (day,) = days
    # It may be tomorrow already where the club is.
    if day > dt.datetime.now(tz=dt.UTC).date() + dt.timedelta(days=1):
        msg = _("this day has not come yet.")
        raise _CellError(msg, code="future_day")
    return day


def _size(role: ColumnRole) -> Size:
    if role.size is None:
        raise ValueError(role)
    return role.size


def _word(name: str, fact: Fact, cell: str) -> str:
    if len(cell) > fact.longest:
        text = _("%(count)s letters; at most %(most)s are kept of a %(what)s.") % {
            "count": len(cell),
            "most": fact.longest,
            "what": _(name),
        }
        raise _CellError(text, code="long_word")
    if not cell.isprintable():
        text = _("it holds a sign that cannot be printed.")
        raise _CellError(text, code="unprintable")
    try:
        fact.read(cell)
    except NotAFactError as error:
        raise _CellError(error_words(error), code=error.code) from error
    return cell
