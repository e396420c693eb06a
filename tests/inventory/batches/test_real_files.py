"""Files as clubs have them, on disk; what is in them is invented."""

from pathlib import Path

import pytest

from inventory.compute.stock import PartKind
from inventory.files.columns import DecimalSign, LengthUnit, guess_layout
from inventory.files.kinds import guess_kind
from inventory.files.rows import read_rows
from inventory.files.tables import read_table

FILES = Path(__file__).parents[2] / "files"

#: Of each file: its kind, its rows that are parts, the rows that are none, with why.
SAID: dict[str, tuple[PartKind, int, dict[int, str]]] = {
    "semicolons_cp1252.csv": (PartKind.TYRE, 60, {}),
    "merged_title_rows.xlsx": (PartKind.TYRE, 48, {}),
    "inches.csv": (PartKind.TYRE, 40, {}),
    "five_wrong_rows.csv": (
        PartKind.TYRE,
        396,
        {
            38: "unknown_mark",
            113: "implausible",
            204: "no_reading",
            289: "negative",
            361: "two_decimal_marks",
        },
    ),
    "total_row.xlsx": (PartKind.TYRE, 30, {32: "sum_row", 33: "sum_row"}),
    "gears.csv": (PartKind.GEAR, 56, {}),
    "motors.xlsx": (PartKind.MOTOR, 24, {}),
    "five_thousand_rows.csv": (PartKind.TYRE, 5_000, {}),
}


@pytest.mark.parametrize("name", SAID)
def test_file_is_read_for_what_it_is(name: str) -> None:
    kind, count, wrong = SAID[name]
    table = read_table((FILES / name).read_bytes())
    assert guess_kind(table) is kind
    layout = guess_layout(table, kind)
    read = read_rows(table, layout, kind)
    assert len(read.rows) == count
    assert {fault.number: fault.code for fault in read.faults} == wrong
    lengths = [r.millionths / 1e6 for row in read.rows for r in row.readings]
    assert all(0 < length < 30_000 for length in lengths)
    is_inch, is_comma = name == "inches.csv", name == "semicolons_cp1252.csv"
    assert (layout.unit is LengthUnit.INCH) is is_inch
    assert (layout.decimal is DecimalSign.COMMA) is is_comma


def test_every_file_on_disk_is_read_here_and_small() -> None:
    on_disk = {path.name: path.stat().st_size for path in FILES.iterdir()}
    assert set(on_disk) == set(SAID)
    assert max(on_disk.values()) <= 512 * 1024


def test_words_of_windows_and_blanks_are_read() -> None:
    table = read_table((FILES / "semicolons_cp1252.csv").read_bytes())
    assert table.facts.encoding == "Windows-1252"
    read = read_rows(table, guess_layout(table, PartKind.TYRE), PartKind.TYRE)
    assert "härter" in {row.words["compound"] for row in read.rows}
    notes = {row.words.get("note") for row in read.rows}
    assert "prüfen – läuft unrund" in notes
    # “k. A.” stands where the third reading was not taken.
    assert sorted({len(row.readings) for row in read.rows}) == [2, 3]
