"""
Tables out: CSV (RFC 4180), XLSX and JSON.

Text stays text: nothing that a person wrote is run by the spreadsheet that opens it.
Numbers stay numbers.
"""

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

import xlsxwriter

from inventory.files.formulas import harmless

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
    rows: Sequence[Sequence[Cell]]


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


def write_csv(table: ExportTable, *, decimal_comma: bool = False) -> bytes:
    """Write UTF-8 with its mark, by which spreadsheets know it."""
    text = io.StringIO(newline="")
    writer = csv.writer(
        text, delimiter=";" if decimal_comma else ",", lineterminator="\r\n"
    )
    writer.writerow([harmless(heading) for heading in table.headings])
    for row in table.rows:
        writer.writerow([_csv_cell(cell, decimal_comma=decimal_comma) for cell in row])
    return text.getvalue().encode("utf-8-sig")


def write_xlsx(table: ExportTable) -> bytes:
    """Write a workbook of one sheet; a string is never taken for a formula."""
    content = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "nan_inf_to_errors": True,
    }
    with xlsxwriter.Workbook(content, options) as book:
        sheet = book.add_worksheet(_sheet_name(table.name))
        bold = book.add_format({"bold": True})
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
    rows = [dict(zip(table.headings, row, strict=True)) for row in table.rows]
    return (json.dumps(rows, ensure_ascii=False, indent=2) + "\n").encode()


def number_text(value: float) -> str:
    """Write a number to a millionth, without zeros that say nothing."""
    return f"{Decimal(repr(round(float(value), 6))):f}".removesuffix(".0")


def _csv_cell(cell: Cell, *, decimal_comma: bool) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return harmless(cell)
    text = number_text(cell)
    return text.replace(".", ",") if decimal_comma else text


def _sheet_name(name: str) -> str:
    # A sheet's name has at most 31 letters, and none of some signs.
    kept = "".join("-" if sign in "[]:*?/\\'" else sign for sign in name)
    return kept[:31].strip() or "Table"
