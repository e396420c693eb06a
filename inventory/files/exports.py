"""
Tables out: CSV (RFC 4180), XLSX and JSON.

Text stays text: nothing that a person wrote is run by the spreadsheet that opens it.
Numbers stay numbers.
"""

import io
import json
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

import xlsxwriter

_DIVIDES: Final = re.compile(r'["\r\n\t;,]')

Cell = str | int | float | None


class ExportForm(StrEnum):
    """The forms that a table is written in."""

    CSV = "csv"
    CSV_COMMA = "csv-comma"
    XLSX = "xlsx"
    JSON = "json"


#: The type to send it as, and how its name ends.
MEDIA: Final = {
    ExportForm.CSV: ("text/csv; charset=utf-8", "csv"),
    ExportForm.CSV_COMMA: ("text/csv; charset=utf-8", "csv"),
    ExportForm.XLSX: (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        "xlsx",
    ),
    ExportForm.JSON: ("application/json", "json"),
}


@dataclass(frozen=True, kw_only=True)
class ExportTable:
    """A table to write: its name, its headings, its rows."""

    name: str
    headings: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def write_table(table: ExportTable, form: ExportForm) -> bytes:
    """Write a table in one of the forms."""
    match form:
        case ExportForm.CSV:
            return write_csv(table)
        case ExportForm.CSV_COMMA:
            return write_csv(table, decimal_comma=True)
        case ExportForm.XLSX:
            return write_xlsx(table)
        case ExportForm.JSON:
            return write_json(table)


def write_tables(tables: Sequence[ExportTable], form: ExportForm) -> bytes:
    """Write one table as it is; several as sheets, lists by name, or packed files."""
    if len(tables) == 1:
        return write_table(tables[0], form)
    match form:
        case ExportForm.XLSX:
            return write_xlsx(*tables)
        case ExportForm.JSON:
            return _json({table.name: _objects(table) for table in tables})
        case _:
            content = io.BytesIO()
            with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as packed:
                for table in tables:
                    packed.writestr(f"{table.name}.csv", write_table(table, form))
            return content.getvalue()


def write_csv(table: ExportTable, *, decimal_comma: bool = False) -> bytes:
    """Write UTF-8 with its mark, by which spreadsheets know it."""
    divider = ";" if decimal_comma else ","
    lines = [
        divider.join(_csv_cell(cell, decimal_comma=decimal_comma) for cell in row)
        for row in (table.headings, *table.rows)
    ]
    return "".join(f"{line}\r\n" for line in lines).encode("utf-8-sig")


def write_csv_row(row: Sequence[Cell]) -> bytes:
    """Write one row, with a full stop for the decimal sign."""
    line = ",".join(_csv_cell(cell, decimal_comma=False) for cell in row)
    return f"{line}\r\n".encode()


def write_xlsx(*tables: ExportTable) -> bytes:
    """Write a workbook, a sheet a table; a string is never taken for a formula."""
    content = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "nan_inf_to_errors": True,
    }
    with xlsxwriter.Workbook(content, options) as book:
        bold = book.add_format({"bold": True})
        for table in tables:
            sheet = book.add_worksheet(_sheet_name(table.name))
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, table.headings, bold)
            for number, row in enumerate(table.rows, 1):
                for column, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(number, column, cell)
                    elif cell is not None:
                        sheet.write_number(number, column, cell)
    return content.getvalue()


def write_json(table: ExportTable) -> bytes:
    """Write one object a row, by the headings."""
    return _json(_objects(table))


def _objects(table: ExportTable) -> list[dict[str, Cell]]:
    return [dict(zip(table.headings, row, strict=True)) for row in table.rows]


def _json(content: object) -> bytes:
    return (json.dumps(content, ensure_ascii=False, indent=2) + "\n").encode()


def number_text(value: float) -> str:
    """Write a number to a millionth, without zeros that say nothing."""
    return f"{Decimal(repr(round(float(value), 6))):f}".removesuffix(".0")


def _csv_cell(cell: Cell, *, decimal_comma: bool) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return _quoted(harmless(cell))
    text = number_text(cell)
    return text.replace(".", ",") if decimal_comma else text


def _quoted(text: str) -> str:
    """Quote a text that holds what divides columns, here or in another's file."""
    if not _DIVIDES.search(text):
        return text
    inner = text.replace('"', '""')
    return f'"{inner}"'


def _sheet_name(name: str) -> str:
    # A sheet's name has at most 31 letters, and none of some signs.
    kept = "".join("-" if sign in "[]:*?/\\'" else sign for sign in name)
    return kept[:31].strip() or "Table"


# What a spreadsheet would run is made harmless on the way out, and read back.
# CWE-1236: a cell that begins with one of a few signs is a formula to a spreadsheet,
# also behind blanks and in the full-width forms.  An apostrophe keeps it text.
_RUNS: Final = re.compile(r"[\s\x00\ufeff]*[=+\-@\t\r\x00＝＋－＠−]")
_KEPT: Final = re.compile(r"'(?='*[\s\x00\ufeff]*[=+\-@\t\r\x00＝＋－＠−])")

#: What is written where there is nothing to write.
_NOTHING: Final = frozenset(
    {"-", "–", "—", "−", "?", "/", "./.", "n/a", "n.a.", "na", "k.a.", "none", "nil"}
)


def harmless(text: str) -> str:
    """Keep a text from being run; one that was kept so before stays distinct."""
    plain = text.lstrip("'")
    return f"'{text}" if _RUNS.match(plain) else text


def typed(text: str) -> str:
    """Give back the text that `harmless` was given."""
    return text[1:] if _KEPT.match(text) else text


def cell_text(cell: str) -> str:
    """
    Give what a cell says: nothing where a sign stands for nothing.

    Examples
    --------
    >>> [cell_text(cell) for cell in (" 18.4 ", "–", "n/a", "k. A.")]
    ['18.4', '', '', '']
    """
    text = cell.strip()
    return "" if "".join(text.split()).casefold() in _NOTHING else text
