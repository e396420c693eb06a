"""Tables out as they are read: nothing of them is held but the row in hand."""

import json
import tempfile
from collections.abc import Iterator
from enum import StrEnum
from typing import Any, Final

import xlsxwriter

from inventory.files.exports import ExportTable, write_csv_row

_MARK: Final = b"\xef\xbb\xbf"
_PIECE: Final = 256 * 1024
#: So many rows go out at once.
_ROWS: Final = 500


class StreamForm(StrEnum):
    """The forms that a table is streamed in, by how a file's name ends."""

    CSV = "csv"
    JSON_LINES = "jsonl"
    XLSX = "xlsx"


def stream_table(table: ExportTable, form: StreamForm) -> Iterator[bytes]:
    """Write a table piece by piece."""
    match form:
        case StreamForm.CSV:
            yield _MARK + write_csv_row(table.headings)
            yield from _gathered(write_csv_row(row) for row in table.rows)
        case StreamForm.JSON_LINES:
            yield from _gathered(_line(table, row) for row in table.rows)
        case StreamForm.XLSX:
            yield from _workbook(table)


def _line(table: ExportTable, row: Any) -> bytes:
    cells = dict(zip(table.headings, row, strict=True))
    return (json.dumps(cells, ensure_ascii=False) + "\n").encode()


def _gathered(lines: Iterator[bytes]) -> Iterator[bytes]:
    some: list[bytes] = []
    for line in lines:
        some.append(line)
        if len(some) == _ROWS:
            yield b"".join(some)
            some.clear()
    yield b"".join(some)


def _workbook(table: ExportTable) -> Iterator[bytes]:
    """Write a workbook row by row into a file that goes when it was sent."""
    with tempfile.TemporaryFile() as file:
        options = {
            "constant_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            "nan_inf_to_errors": True,
        }
        with xlsxwriter.Workbook(file, options) as book:
            sheet = book.add_worksheet("Table")
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, table.headings)
            for number, row in enumerate(table.rows, 1):
                for column, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(number, column, cell)
                    elif cell is not None:
                        sheet.write_number(number, column, cell)
        file.seek(0)
        while piece := file.read(_PIECE):
            yield piece
