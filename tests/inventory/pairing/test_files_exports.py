"""Tables out: RFC 4180, nothing that a spreadsheet runs, and back in again (S22)."""

import csv
import io
import json
from collections.abc import Sequence

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.files.exports import (
    ExportForm,
    ExportTable,
    harmless,
    number_text,
    typed,
    write_csv,
    write_table,
    write_xlsx,
)
from inventory.files.tables import read_table

#: Beginnings that OWASP names for CSV injection, and their kin.
RUN = [
    "=cmd",
    "+1",
    "-1+1",
    "@x",
    "\tx",
    "\rx",
    "\0x",
    " =1",
    "＝1",
    "＋1",
    "－1",
    "＠1",
]


def table(*rows: Sequence[str | float | None]) -> ExportTable:
    return ExportTable(name="pairs", headings=["tag", "mm"], rows=rows)


def read_csv(content: bytes, delimiter: str = ",") -> list[list[str]]:
    text = content.decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))


@pytest.mark.parametrize("text", RUN)
def test_text_that_would_run_is_kept_from_it(text: str) -> None:
    assert harmless(text) == "'" + text
    assert typed(harmless(text)) == text
    assert read_csv(write_csv(table([text, None])))[1][0] == "'" + text


@given(st.text(max_size=30))
def test_harmless_text_is_given_back(text: str) -> None:
    out = harmless(text)
    assert typed(out) == text
    first = out.lstrip(" \u3000")[:1]
    assert first not in {*"=+-@\t\r\0＝＋－＠"} or out == ""


cells = st.text(max_size=30) | st.floats(
    allow_nan=False, allow_infinity=False, width=32
)


def printable(cell: str | float) -> str | float:
    if isinstance(cell, float):
        return cell
    return "".join(filter(str.isprintable, cell))


@given(st.lists(st.lists(cells, min_size=2, max_size=2), max_size=5))
def test_workbook_holds_no_formula_and_every_value(
    rows: list[list[str | float]],
) -> None:
    readable = [
        [
            cell if isinstance(cell, float) else "".join(filter(str.isprintable, cell))
            for cell in row
        ]
        for row in rows
    ]
    book = openpyxl.load_workbook(io.BytesIO(write_xlsx(table(*readable))))
    page = book.active
    assert page is not None
    for number, row in enumerate(readable, 2):
        for column, value in enumerate(row, 1):
            cell = page.cell(number, column)
            assert cell.data_type in {"s", "n"}
            if isinstance(value, float):
                assert cell.value == pytest.approx(value, rel=1e-9)
            else:
                assert (cell.value or "") == value


def test_numbers_stay_numbers_and_lines_end_as_the_standard_says() -> None:
    content = write_csv(table(["A", -0.5], ['say "b"', 18.42], ["c,d", None]))
    assert content == (
        b'\xef\xbb\xbftag,mm\r\nA,-0.5\r\n"say ""b""",18.42\r\n"c,d",\r\n'
    )
    comma = write_csv(table(["A", 18.42]), decimal_comma=True)
    assert read_csv(comma, ";")[1] == ["A", "18,42"]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (18.4, "18.4"),
        (18, "18"),
        (18.0, "18"),
        (0.1 + 0.2, "0.3"),
        (1e-7, "0"),
        (-0.000002, "-0.000002"),
        (1e15, "1000000000000000"),
        (20_000, "20000"),
    ],
)
def test_number_is_written_without_zeros_or_powers(value: float, text: str) -> None:
    assert number_text(value) == text


@pytest.mark.parametrize(
    "form", [ExportForm.CSV, ExportForm.CSV_COMMA, ExportForm.XLSX]
)
def test_what_goes_out_comes_in_again(form: ExportForm) -> None:
    content = write_table(table(["=cmd", 18.42], ["ü'x", 18.4]), form)
    back = read_table(content)
    rows = [[typed(row[0]), row[1].replace(",", ".")] for row in back.rows]
    assert rows == [["tag", "mm"], ["=cmd", "18.42"], ["ü'x", "18.4"]]


def test_json_is_an_object_a_row() -> None:
    said = json.loads(write_table(table(["Ø", 1.5]), ExportForm.JSON))
    assert said == [{"tag": "Ø", "mm": 1.5}]


def test_name_that_no_sheet_may_have_is_made_one() -> None:
    odd = ExportTable(name="a/b[c]:*?\\'" + "x" * 40, headings=["h"], rows=[])
    book = openpyxl.load_workbook(io.BytesIO(write_xlsx(odd)))
    assert len(book.sheetnames[0]) == 31
    empty = ExportTable(name=" ", headings=["h"], rows=[])
    assert openpyxl.load_workbook(io.BytesIO(write_xlsx(empty))).sheetnames == ["Table"]
