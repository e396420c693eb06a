"""
A workbook's sheet as rows of text, what is no plain value marked.

Formulas are not worked out: the value that was stored with one is taken.  Runs in
the reading process.
"""

import datetime as dt
import io
from collections.abc import Iterator
from dataclasses import dataclass

from python_calamine import CalamineError, CalamineSheet, load_workbook

from inventory.compute.file_refusals import WhyNoTable
from inventory.files import limits
from inventory.files.marks import Mark, MarkedCell
from inventory.files.packed import Packed, SheetSize
from inventory.files.refused import (
    DamagedWorkbookError,
    EmptyFileError,
    NoSuchSheetError,
    TooMuchTextError,
)


@dataclass(frozen=True, kw_only=True)
class OpenSheet:
    """The sheet that is read, the names of all, and its marked cells."""

    sheet: CalamineSheet
    names: list[str]
    size: SheetSize


def open_sheet(content: bytes, *, wanted: str = "") -> OpenSheet:
    """
    Open the wanted sheet, else the first that holds anything.

    Every check of what is packed comes before the parser sees a byte.
    """
    packed = Packed(content)
    files = packed.sheet_files()
    if wanted and wanted not in files:
        raise NoSuchSheetError(WhyNoTable.NO_SUCH_SHEET, wanted=wanted)
    for name, member in files.items():
        if wanted and name != wanted:
            continue
        size = packed.measure(member)
        if size.rows * size.columns > limits.CELLS:
            raise TooMuchTextError(WhyNoTable.FAR_APART)
        if size.rows:
            return OpenSheet(sheet=_parsed(content, name), names=list(files), size=size)
    raise EmptyFileError(WhyNoTable.EMPTY_SHEETS if files else WhyNoTable.NO_SHEETS)


def rows_of(opened: OpenSheet) -> Iterator[list[str]]:
    """Give the rows from the sheet's first, a merged cell's words in each of its."""
    spread = _merged(opened.sheet)
    words: dict[tuple[int, int], str] = {}
    for number, cells in enumerate(opened.sheet.to_python(skip_empty_area=False)):
        row = [as_text(cell) for cell in cells]
        for column in range(len(row)) if spread else ():
            origin = spread.get((number, column))
            if origin == (number, column):
                words[origin] = row[column]
            elif origin is not None:
                row[column] = words.get(origin, "")
        yield row


def marks_of(opened: OpenSheet) -> Iterator[MarkedCell]:
    """Say which cells are no plain values."""
    for row, column in opened.size.formulas:
        yield MarkedCell(row=row, column=column, mark=Mark.FORMULA)
    for row, column in opened.size.errors:
        yield MarkedCell(row=row, column=column, mark=Mark.ERROR)
    for (row, column), origin in _merged(opened.sheet).items():
        if (row, column) != origin:
            yield MarkedCell(row=row, column=column, mark=Mark.MERGED)


def as_text(cell: object) -> str:
    """Write a cell as a person would have typed it; a date is marked as one."""
    match cell:
        case bool():
            return "TRUE" if cell else "FALSE"
        case float() | int():
            # 18.4 that was worked out is 18.400000000000002; a millionth is kept.
            return f"{cell:.6f}".rstrip("0").rstrip(".")
        case dt.datetime() | dt.date() | dt.time():
            return cell.isoformat()
        case dt.timedelta():
            return str(cell)
        case _:
            return str(cell)


def _parsed(content: bytes, name: str) -> CalamineSheet:
    try:
        return load_workbook(io.BytesIO(content)).get_sheet_by_name(name)
    except CalamineError as error:
        raise DamagedWorkbookError(WhyNoTable.DAMAGED) from error


def _merged(sheet: CalamineSheet) -> dict[tuple[int, int], tuple[int, int]]:
    """Give for each cell of a merge the cell that holds its words."""
    spread: dict[tuple[int, int], tuple[int, int]] = {}
    for first, last in sheet.merged_cell_ranges or ():
        bottom = min(last[0], limits.ROWS)
        right = min(last[1], limits.COLUMNS)
        for row in range(first[0], bottom + 1):
            for column in range(first[1], right + 1):
                spread[row, column] = first
                if len(spread) > limits.MARKED_CELLS:
                    return spread
    return spread
