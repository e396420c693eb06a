"""
Text in columns, or as objects: its encoding, its divider, its rows (RFC 4180).

Nothing here knows of parts.  Runs in the reading process.
"""

import csv
import io
import json
import re
from collections.abc import Iterator
from decimal import Decimal
from itertools import chain
from math import isfinite
from typing import NamedTuple

from inventory.compute.file_refusals import WhyNoTable
from inventory.files import limits
from inventory.files.refused import (
    EncodingError,
    NoSuchSheetError,
    NotATableFileError,
    QuotesError,
    TooManyColumnsError,
    TooManyRowsError,
)

#: What may divide columns, the likeliest first; a comma may be a decimal sign.
DIVIDERS = ("\t", ";", ",")
#: A file of one column has no divider: a sign that no text holds stands for it.
NO_DIVIDER = "\x1f"
_SAMPLE_LINES = 50

_MARKS = (
    (b"\xef\xbb\xbf", "utf-8", "UTF-8"),
    (b"\xff\xfe", "utf-16-le", "UTF-16"),
    (b"\xfe\xff", "utf-16-be", "UTF-16"),
)
_WEB_PAGE = re.compile(
    r"\s*<(?:!doctype|html|head|body|table|\?xml|svg)", re.IGNORECASE
)
_NO_TEXT = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f]")
_COMMA_DECIMAL = re.compile(r"\s*[+-]?\d+,\d+\s*(?:mm|in|\")?\s*")


def decode(content: bytes) -> tuple[str, str]:
    """
    Turn bytes into text, and say by which encoding.

    A byte order mark decides; without one UTF-8 if it fits, UTF-16 if every
    second byte is zero, and Windows-1252 as the last that spreadsheets write.
    """
    for mark, codec, name in _MARKS:
        if content.startswith(mark):
            return _decoded(content[len(mark) :], codec), name
    if (wide := _unmarked_utf_16(content)) is not None:
        return _decoded(content, wide), "UTF-16"
    try:
        return _as_text(content.decode("utf-8")), "UTF-8"
    except UnicodeDecodeError:
        # What is no text at all is not told to save itself in another encoding.
        _as_text(content.decode("latin-1"))
        return _decoded(content, "cp1252"), "Windows-1252"


def find_divider(text: str) -> str:
    """
    Find the sign that divides the columns.

    A first line ``sep=;`` says it.  Else the first of tab, semicolon and comma
    that most lines hold; a comma that is the decimal sign of the one number on
    each line divides nothing.
    """
    lines = [line for line in _first_lines(text) if line.strip()]
    if lines and (match := re.fullmatch(r"sep=(.)", lines[0].strip(), re.IGNORECASE)):
        return match[1]
    # What stands in quotes divides nothing.
    lines = [re.sub(r'"[^"]*"', "", line) for line in lines]
    for divider in DIVIDERS:
        with_it = sum(divider in line for line in lines)
        if with_it * 2 > len(lines) and not _is_decimal_sign(divider, lines):
            return divider
    return NO_DIVIDER


def read_text_rows(text: str, divider: str) -> Iterator[list[str]]:
    """
    Give the rows of a text as they are divided, the line ``sep=`` left out.

    Refuses more rows or columns than are read as soon as it meets them.
    """
    csv.field_size_limit(limits.BYTES)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=divider, strict=True)
    try:
        for number, row in enumerate(rows, 1):
            if number == 1 and len(row) <= 2 and row and row[0].startswith("sep="):
                continue
            _refuse_large(number, row)
            yield row
    except csv.Error as error:
        line = str(rows.line_num)
        raise QuotesError(WhyNoTable.QUOTE, line=line) from error


class Objects(NamedTuple):
    """Rows of objects, the name that they stand under, and the names of all lists."""

    rows: Iterator[list[str]]
    name: str
    names: list[str]


def read_objects(text: str, wanted: str) -> Objects:
    """
    Read JSON as it goes out: objects a row; and the names where there are several.

    Of lists by name the wanted one is read, else the first that holds anything.
    """
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise NotATableFileError(WhyNoTable.NO_JSON) from error
    name, names = "", []
    if isinstance(content, dict):
        names = [name for name, rows in content.items() if _is_list_of_objects(rows)]
        if wanted and wanted not in names:
            raise NoSuchSheetError(WhyNoTable.NO_SUCH_LIST, wanted=wanted)
        name = wanted or next((one for one in names if content[one]), "")
        content = content.get(name)
    if not _is_list_of_objects(content):
        raise NotATableFileError(WhyNoTable.NO_OBJECTS)
    headings = list(dict.fromkeys(name for row in content for name in row))
    rows = ([_shown(row.get(heading)) for heading in headings] for row in content)
    return Objects(chain([headings], _kept_small(rows)), name, names)


def _is_list_of_objects(content: object) -> bool:
    return isinstance(content, list) and all(
        isinstance(row, dict)
        and not any(isinstance(cell, dict | list) for cell in row.values())
        for row in content
    )


def _shown(cell: object) -> str:
    if cell is None or isinstance(cell, bool):
        return ""
    if isinstance(cell, float):
        return f"{Decimal(repr(cell)):f}" if isfinite(cell) else ""
    return str(cell)


def _kept_small(rows: Iterator[list[str]]) -> Iterator[list[str]]:
    for number, row in enumerate(rows, 2):
        _refuse_large(number, row)
        yield row


def _refuse_large(number: int, row: list[str]) -> None:
    if number > limits.ROWS:
        raise TooManyRowsError(WhyNoTable.MANY_ROWS, most=f"{limits.ROWS:,}")
    if len(row) > limits.COLUMNS and any(row[limits.COLUMNS :]):
        raise TooManyColumnsError(
            WhyNoTable.MANY_COLUMNS,
            row=str(number),
            count=f"{len(row):,}",
            most=str(limits.COLUMNS),
        )


def _decoded(content: bytes, codec: str) -> str:
    try:
        return _as_text(content.decode(codec))
    except UnicodeDecodeError as error:
        raise EncodingError(WhyNoTable.ENCODING) from error


def _as_text(text: str) -> str:
    if _NO_TEXT.search(text):
        raise NotATableFileError(WhyNoTable.NO_TEXT)
    if _WEB_PAGE.match(text):
        raise NotATableFileError(WhyNoTable.WEB_PAGE)
    return text


def _unmarked_utf_16(content: bytes) -> str | None:
    sample = content[:400]
    if len(sample) < 4:
        return None
    half = len(sample) // 2
    if sample[1::2].count(0) > 0.7 * half and not sample[0::2].count(0):
        return "utf-16-le"
    if sample[0::2].count(0) > 0.7 * half and not sample[1::2].count(0):
        return "utf-16-be"
    return None


def _first_lines(text: str) -> list[str]:
    return text[: limits.MIB].splitlines()[:_SAMPLE_LINES]


def _is_decimal_sign(divider: str, lines: list[str]) -> bool:
    # 18,42 a line, under a heading perhaps: two columns of whole numbers otherwise.
    with_it = [line for line in lines if divider in line]
    return divider == "," and all(map(_COMMA_DECIMAL.fullmatch, with_it))
