"""Files that nobody should have to read, made for the tests."""

import io
import zipfile
from collections.abc import Mapping
from functools import cache

import openpyxl
import xlsxwriter

TYPES = "[Content_Types].xml"
BOOK = "xl/workbook.xml"
SHEET = "xl/worksheets/sheet1.xml"
_NAMES = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def packed(
    parts: Mapping[str, str | bytes],
    *,
    level: int = 9,
    method: int = zipfile.ZIP_DEFLATED,
) -> bytes:
    """Pack members into a ZIP."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", method, compresslevel=level) as file:
        for name, text in parts.items():
            file.writestr(name, text)
    return content.getvalue()


def sheet(cells: str, **parts: str | bytes) -> bytes:
    """Pack a workbook of one sheet out of its raw XML; ``parts`` go before its own."""
    return packed({**ordinary_parts(), SHEET: sheet_xml(cells), **parts})


def sheet_xml(cells: str, behind: str = "") -> str:
    inside = f"<sheetData>{cells}</sheetData>{behind}"
    return f'<worksheet xmlns="{_NAMES}">{inside}</worksheet>'


@cache
def ordinary_parts() -> dict[str, bytes]:
    """Give the members of an ordinary workbook."""
    with zipfile.ZipFile(io.BytesIO(workbook([[1]]))) as file:
        return {name: file.read(name) for name in file.namelist()}


def workbook(rows: list[list[object]]) -> bytes:
    """Write an ordinary workbook, as a spreadsheet would."""
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"in_memory": True}) as book:
        page = book.add_worksheet("Tyres")
        for number, row in enumerate(rows):
            page.write_row(number, 0, row)
    return content.getvalue()


def saved(book: openpyxl.Workbook) -> bytes:
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def lying_sizes() -> bytes:
    """Say in the directory that a bomb unpacks to 100 bytes."""
    name = SHEET.encode()
    content = bytearray(sheet("<row><c><v>1</v></c></row>" * 400_000))
    header = content.rindex(b"PK\x01\x02", 0, content.rindex(name))
    content[header + 24 : header + 28] = (100).to_bytes(4, "little")
    return bytes(content)


def locked_member() -> bytes:
    """Mark a member as locked with a password."""
    content = bytearray(sheet("<row><c><v>1</v></c></row>"))
    header = content.rindex(b"PK\x01\x02")
    content[header + 8] |= 1
    return bytes(content)
