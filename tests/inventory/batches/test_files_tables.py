"""Files in: what is read right, and what is refused with its reason (S20)."""

import io
import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import openpyxl
import psutil
import pytest
from hypothesis import given
from hypothesis import strategies as st

import inventory
from inventory.compute.file_refusals import WhyNoTable
from inventory.files import limits, tables
from inventory.files.child import Message, answer, messages_of
from inventory.files.kept_tables import pack_table, unpack_table
from inventory.files.marks import Mark
from inventory.files.refused import (
    REASONS,
    FileRefusedError,
    ReadingStoppedError,
    refusal,
)
from inventory.files.tables import Table, read_table
from tests.inventory import hostile

CELL = "<row><c><v>1</v></c></row>"


@cache
def lots_of_one_cell() -> bytes:
    return hostile.sheet(CELL * 8_000_000)


REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing": (lambda: b"", "empty_file"),
    "blanks": (lambda: b" \r\n\t\n", "empty_file"),
    "a mark alone": (lambda: b"\xef\xbb\xbf\n", "empty_file"),
    "zeros": (lambda: bytes(4096), "empty_file"),
    "zeros among text": (lambda: b"18.4,\0\n18.5,\0\n", "not_a_table"),
    "a picture": (lambda: b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "not_a_table"),
    "a web page": (lambda: b"<!DOCTYPE html><table><td>18.4", "not_a_table"),
    "a lone surrogate": (lambda: b"\xff\xfe\x00\xd8\x31\x00", "encoding"),
    "no known encoding": (lambda: b"18.4,\x81\x8d\x8f", "encoding"),
    "an open quote": (lambda: b'Tag,size\n"A,18.4\n', "quotes"),
    "text behind a quote": (lambda: b'Tag,size\n"A"x,18.4\n', "quotes"),
    "21 MB": (lambda: b"1,2\n" * (21 * 262_144), "large_file"),
    "a million rows": (lambda: b"18.4;18.5\n" * 1_000_000, "too_many_rows"),
    "a million columns": (lambda: b"18.4;" * 1_000_000, "too_many_columns"),
    "of before 2007": (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "locked_workbook"),
    "no ZIP behind its sign": (lambda: b"PK\x03\x04nothing", "damaged_workbook"),
    "cut short": (lambda: hostile.workbook([["A", 18.4]])[:-200], "damaged_workbook"),
    "a ZIP of no workbook": (lambda: hostile.packed({"a": "b"}), "damaged_workbook"),
    "a workbook in a ZIP": (
        lambda: hostile.packed({"in.xlsx": hostile.sheet(CELL)}),
        "damaged_workbook",
    ),
    "members climbing out": (
        lambda: hostile.packed({"../../a": "b", "/b": "c"}),
        "damaged_workbook",
    ),
    "a member with a password": (hostile.locked_member, "locked_workbook"),
    "macros": (
        lambda: hostile.sheet(CELL, **{"xl/vbaProject.bin": b"\0"}),
        "macros",
    ),
    "old macros": (
        lambda: hostile.sheet(CELL, **{"xl/macrosheets/m1.xml": "<m/>"}),
        "macros",
    ),
    "the kind with macros": (
        lambda: hostile.sheet(CELL, **{hostile.TYPES: "<T>macroEnabled</T>"}),
        "macros",
    ),
    "8 million rows in 500 KB": (lots_of_one_cell, "packed_bomb"),
    "a directory that lies": (hostile.lying_sizes, "damaged_workbook"),
    "a string bomb": (
        lambda: hostile.sheet(
            CELL, **{"xl/sharedStrings.xml": "<sst>" + "a" * (150 * limits.MIB)}
        ),
        "packed_bomb",
    ),
    "200 MB unpacked": (
        lambda: hostile.packed(
            {f"xl/{n}": os.urandom(20_000) * 105 for n in range(100)}, level=1
        ),
        "packed_bomb",
    ),
    "101 members": (
        lambda: hostile.packed({f"m{n}": "" for n in range(101)}),
        "packed_bomb",
    ),
    "a cell in row 200,001": (
        lambda: hostile.sheet('<row r="200001"><c r="A200001"><v>1</v></c></row>'),
        "too_many_rows",
    ),
    "a cell in the last column": (
        lambda: hostile.sheet('<row r="1"><c r="XFD1"><v>1</v></c></row>'),
        "too_many_columns",
    ),
    "cells far apart": (
        lambda: hostile.sheet(
            '<row r="1"><c r="AX1"><v>1</v></c></row>'
            '<row r="199999"><c r="A199999"><v>1</v></c></row>'
        ),
        "too_much_text",
    ),
    "no sheet": (
        lambda: hostile.sheet("", **{hostile.BOOK: "<workbook/>"}),
        "empty_file",
    ),
    "an empty sheet": (
        lambda: hostile.sheet('<row r="1"><c r="A1"/></row>'),
        "empty_file",
    ),
    "a sheet of two megabytes of names": (
        lambda: hostile.sheet(CELL, **{hostile.BOOK: os.urandom(limits.MIB).hex()}),
        "damaged_workbook",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_file_is_refused_with_its_reason(name: str) -> None:
    make, code = REFUSED[name]
    content = make()
    with pytest.raises(FileRefusedError) as refused:
        read_table(content)
    assert refused.value.code == code
    assert type(refused.value) is REASONS[code]
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize("name", REFUSED)
def test_reading_process_says_the_same_when_it_is_not_one(name: str) -> None:
    make, code = REFUSED[name]
    content = make()
    if len(content) < limits.MIB:
        *_, last = messages_of_all(content)
        assert last["refused"] == code


def test_bomb_costs_the_server_nothing() -> None:
    bomb = lots_of_one_cell()
    before = psutil.Process().memory_info().rss
    with pytest.raises(FileRefusedError):
        read_table(bomb)
    grown = psutil.Process().memory_info().rss - before
    assert grown <= 20 * limits.MIB


def test_entities_of_xml_are_not_unfolded() -> None:
    body = (
        '<!DOCTYPE x [<!ENTITY a "18.4"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    ) + hostile.sheet_xml(
        '<row r="1"><c r="A1" t="str"><v>&b;&b;</v></c><c r="B1"><v>18.4</v></c></row>'
    )
    *_, last = messages_of_all(hostile.sheet("", **{hostile.SHEET: body}))
    assert last.get("refused") == "damaged_workbook" or "18.418.4" not in str(last)


def messages_of_all(content: bytes) -> list[Message]:
    request = b'{"sheet": "", "divider": ""}\n'
    return list(answer(io.BytesIO(request + content)))


ENCODED = {
    "UTF-8": ("utf-8", b""),
    "UTF-8 with a mark": ("utf-8", b"\xef\xbb\xbf"),
    "UTF-16 little": ("utf-16-le", b"\xff\xfe"),
    "UTF-16 big": ("utf-16-be", b"\xfe\xff"),
    "UTF-16 little, no mark": ("utf-16-le", b""),
    "UTF-16 big, no mark": ("utf-16-be", b""),
    "Windows": ("cp1252", b""),
}


@pytest.mark.parametrize("name", ENCODED)
@pytest.mark.parametrize("line", ["\n", "\r\n"])
def test_encodings_and_line_ends_are_found(name: str, line: str) -> None:
    codec, mark = ENCODED[name]
    text = line.join(["Ø;weiß", "18,42;soft", "18,44;firm", ""])
    table = read_table(mark + text.encode(codec))
    assert table.rows == [["Ø", "weiß"], ["18,42", "soft"], ["18,44", "firm"]]
    assert table.facts.divider == ";"
    assert table.facts.encoding in {"UTF-8", "UTF-16", "Windows-1252"}


@pytest.mark.parametrize(
    ("text", "divider", "first"),
    [
        ("a\tb\n1,5\t2\n", "\t", ["a", "b"]),
        ("a;b\n1,5;2,5\n", ";", ["a", "b"]),
        ("a,b\n1.5,2.5\n", ",", ["a", "b"]),
        ("Ø\n18,42\n18,44\n", "\x1f", ["Ø"]),
        ("18,42\n18,44\n", "\x1f", ["18,42"]),
        ("18,42,a\n18,44,b\n", ",", ["18", "42", "a"]),
        ("18.42\n18.44\n", "\x1f", ["18.42"]),
        ("sep=;\na;b,c\n", ";", ["a", "b,c"]),
        ('"a,1";b\n"c,2";d\n', ";", ["a,1", "b"]),
        ('"a ""quoted"" word",b\n1,2\n', ",", ['a "quoted" word', "b"]),
        ('"two\nlines",b\n1,2\n', ",", ["two\nlines", "b"]),
    ],
)
def test_divider_is_found(text: str, divider: str, first: list[str]) -> None:
    table = read_table(text.encode())
    assert (table.facts.divider, table.rows[0]) == (divider, first)


def test_divider_that_is_said_is_used() -> None:
    assert read_table(b"18,42\n18,44\n", divider=",").rows[0] == ["18", "42"]


def test_cell_of_a_million_letters_is_cut_and_marked() -> None:
    table = read_table(b"Tag,size\n" + b"x" * 1_000_000 + b",18.4\n")
    assert len(table.rows[1][0]) == limits.CELL_CHARACTERS
    assert table.marks == {(1, 0): Mark.LONG}


def test_empty_columns_to_the_right_are_no_columns_too_many() -> None:
    assert len(read_table(b"18.4" + b"," * 80 + b"\n").rows) == 1


def test_reading_process_gives_the_rows_in_portions() -> None:
    content = b"18.42;18.44\n" * 2_500
    messages = messages_of_all(content)
    assert [len(one["rows"]) for one in messages if "rows" in one] == [1000, 1000, 500]
    assert messages[-1]["facts"]["divider"] == ";"
    told = messages_of_all(hostile.workbook([["Ø"], [18.4]]))
    assert told[-1]["facts"]["form"] == "XLSX"


def test_workbook_is_read_as_it_would_have_been_typed() -> None:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page["B3"], page["C3"] = "Tag", "Readings"
    page.merge_cells("C3:D3")
    page["B4"], page["C4"], page["D4"] = "=cmd", 18.1 + 0.3, "=C4+1"
    page["B5"], page["C5"], page["D5"] = True, 18, "18,42"
    page["B5"].data_type = "b"
    content = hostile.saved(book)
    table = read_table(content)
    assert messages_of_all(content)[-1]["facts"]["sheet"] == table.facts.sheet
    assert table.rows[:2] == [["", "", "", ""], ["", "", "", ""]]
    assert table.rows[2] == ["", "Tag", "Readings", "Readings"]
    # What a spreadsheet would work out is not: no value was stored with it.
    assert table.rows[3] == ["", "", "18.4", ""]
    assert table.rows[4] == ["", "TRUE", "18", "18,42"]
    assert table.marks[2, 3] is Mark.MERGED
    assert table.marks[3, 3] is Mark.FORMULA
    assert table.facts.sheets == ["Sheet"]


def test_value_stored_with_a_formula_and_an_error_are_told_apart() -> None:
    cells = (
        '<row r="1"><c r="A1"><f>1+17.4</f><v>18.4</v></c>'
        '<c r="B1" t="e"><f>1/0</f><v>#DIV/0!</v></c></row>'
    )
    table = read_table(hostile.sheet(cells))
    assert table.rows[0][0] == "18.4"
    assert table.marks == {(0, 0): Mark.FORMULA, (0, 1): Mark.ERROR}


def test_cells_without_addresses_follow_each_other() -> None:
    cells = "<row><c><v>1</v></c><c/><c><f>2</f><v>3</v></c></row>" + CELL
    table = read_table(hostile.sheet(cells))
    assert table.rows == [["1", "", "3"], ["1", "", ""]]
    assert table.marks == {(0, 2): Mark.FORMULA}


def test_dates_and_times_are_written_so_that_they_are_known() -> None:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.append(["size"])
    for value, shape in ((46154.0, "yyyy-mm-dd"), (0.5, "hh:mm"), (1.5, "[h]:mm")):
        page.append([value])
        page.cell(page.max_row, 1).number_format = shape
    content = hostile.saved(book)
    rows = read_table(content).rows
    assert [row for one in messages_of_all(content) for row in one.get("rows", [])] == (
        rows
    )
    assert rows[1] == ["2026-05-12"]
    assert rows[2] == ["12:00:00"]
    assert ":" in rows[3][0]


def test_first_sheet_with_anything_is_read_unless_another_is_named() -> None:
    book = openpyxl.Workbook()
    book.create_sheet("Tyres & more").append(["Ø", 18.4])
    book.create_sheet("Other").append([1])
    content = hostile.saved(book)
    assert read_table(content).facts.sheet == "Tyres & more"
    assert read_table(content, sheet="Other").rows == [["1"]]
    with pytest.raises(FileRefusedError) as refused:
        read_table(content, sheet="None")
    assert refused.value.code == "no_such_sheet"
    with pytest.raises(FileRefusedError) as refused:
        read_table(content, sheet="Sheet")
    assert refused.value.code == "empty_file"


def test_merge_of_a_whole_sheet_is_not_spread_without_end() -> None:
    body = hostile.sheet_xml(
        '<row r="1"><c r="A1"><v>18.4</v></c></row>',
        '<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>',
    )
    table = read_table(hostile.sheet("", **{hostile.SHEET: body}))
    assert len(table.marks) <= limits.MARKED_CELLS


def test_cells_more_than_are_read_are_refused_while_reading(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(limits, "CELLS", 10)
    with pytest.raises(FileRefusedError) as refused:
        list(messages_of(b"1;2\n" * 6))
    assert refused.value.code == "too_much_text"
    with pytest.raises(FileRefusedError) as refused:
        list(messages_of(hostile.sheet(CELL * 11)))
    assert refused.value.code == "too_much_text"


def test_progress_is_told_and_may_end_the_reading() -> None:
    told: list[tuple[int, int]] = []
    content = b"18.42,18.44\n" * 5_000
    read_table(content, on_progress=lambda done, total: told.append((done, total)))
    assert told[0] == (1_000, 5_001)
    assert len(told) >= 5

    class StopError(Exception):
        pass

    def stop(done: int, total: int) -> None:
        raise StopError

    before = set(psutil.Process().children())
    with pytest.raises(StopError):
        read_table(content, on_progress=stop)
    assert set(psutil.Process().children()) <= before


DYING = {
    "at once": "import os; os.abort()",
    "after reading": "import os, sys; sys.stdin.buffer.read(); os.abort()",
    "in mid-line": (
        "import sys; sys.stdin.buffer.read(); "
        'sys.stdout.write(\'[1]\\n{"rows": [["18\'); sys.stdout.flush()'
    ),
}


@pytest.mark.parametrize("how", DYING)
def test_reader_that_dies_is_a_file_refused(
    how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "COMMAND", (sys.executable, "-c", DYING[how]))
    with pytest.raises(ReadingStoppedError):
        read_table(b"18.42\n" * 200_000)


def test_reader_that_never_answers_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    command = (sys.executable, "-c", "import time; time.sleep(600)")
    monkeypatch.setattr(tables, "COMMAND", command)
    monkeypatch.setattr(limits, "CHILD_WALL_S", 1)
    with pytest.raises(ReadingStoppedError):
        read_table(b"18.42\n")


def test_memory_of_the_reader_is_capped() -> None:
    # The same program with a cap too small for what it is given.
    code = (
        "from inventory.files import limits; limits.CHILD_MEMORY_BYTES = 120 * 2**20\n"
        "from inventory.files import child; child.main()"
    )
    said = json.dumps({"sheet": "", "divider": ""}).encode() + b"\n"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(inventory.__file__).parents[1],
        input=said + b"18.42;18.44\n" * 1_500_000,
        capture_output=True,
        timeout=120,
        check=False,
    )
    last = done.stdout.splitlines()[-1:] or [b"{}"]
    assert done.returncode != 0 or json.loads(last[0])["refused"] == "reading_stopped"


def test_whatever_a_parser_throws_is_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    class PanicError(BaseException):
        """What a parser written in another language may throw."""

    for thrown, code in ((MemoryError, "reading_stopped"), (PanicError, "not_a_table")):

        def panic(
            *_: object, thrown: type[BaseException] = thrown, **__: object
        ) -> None:
            raise thrown

        monkeypatch.setattr("inventory.files.child.messages_of", panic)
        (last,) = messages_of_all(b"18.4")
        assert last["refused"] == code


@given(st.binary(max_size=400))
def test_no_bytes_make_the_reader_fail_otherwise(content: bytes) -> None:
    for start in (b"", b"PK\x03\x04"):
        *_, last = messages_of_all(start + content)
        assert {"facts", "refused"} & set(last)


@given(st.binary(min_size=1, max_size=40), st.integers(0, 10_000))
def test_no_damage_makes_the_reader_fail_otherwise(damage: bytes, place: int) -> None:
    content = bytearray(hostile.workbook([["Tag", "Ø"], ["A", 18.4]]))
    at = place % len(content)
    content[at : at + len(damage)] = damage
    *_, last = messages_of_all(bytes(content))
    assert {"facts", "refused"} & set(last)


def test_table_is_kept_as_it_was_read() -> None:
    table = read_table(b"Tag;\xc3\x98\nA;18,4\n" + b"x" * 300)
    assert unpack_table(pack_table(table)) == table


def test_unknown_reason_is_still_a_refusal() -> None:
    assert type(refusal("of tomorrow", WhyNoTable.DAMAGED, {})) is FileRefusedError


def test_rows_without_cells_have_no_width() -> None:
    table = Table(rows=[], facts=read_table(b"1").facts)
    assert table.width == 0


def test_archives_are_counted_by_what_they_hold() -> None:
    with zipfile.ZipFile(io.BytesIO(hostile.lying_sizes())) as file:
        assert file.getinfo(hostile.SHEET).file_size == 100
