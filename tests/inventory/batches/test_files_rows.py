"""What columns are taken for, and rows read: forty small files and their faults."""

import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.stock.words import PartKind, PartQuantity, Section
from inventory.files.columns import (
    ColumnLayout,
    DecimalSign,
    LengthUnit,
    column_letter,
    column_number,
    guess_layout,
    headings_of,
)
from inventory.files.kept_tables import layout_from_json, layout_to_json
from inventory.files.kinds import guess_kind
from inventory.files.marks import FileFacts, Mark
from inventory.files.roles import (
    DATE,
    DRAWER,
    NAME,
    NOT_USED,
    NOTE,
    TAG,
    ColumnRole,
    roles_by_name,
)
from inventory.files.rows import ReadRows, layout_role, read_rows
from inventory.files.tables import Table

FACTS = FileFacts(form="CSV")


class R:
    """The roles of tyres and motors, by short names."""

    NOT_USED, TAG, NAME, DRAWER = NOT_USED, TAG, NAME, DRAWER
    DIAMETER = roles_by_name(PartKind.TYRE)["diameter"]
    INNER = roles_by_name(PartKind.TYRE)["diameter at the inner edge"]
    OUTER = roles_by_name(PartKind.TYRE)["diameter at the outer edge"]
    WIDTH = roles_by_name(PartKind.TYRE)["width"]
    OUT_OF_ROUND = roles_by_name(PartKind.TYRE)["out of round"]
    TAPER = roles_by_name(PartKind.TYRE)["taper"]
    HARDNESS = roles_by_name(PartKind.TYRE)["hardness"]
    COMPOUND = roles_by_name(PartKind.TYRE)["compound"]
    WIDTH_CODE = roles_by_name(PartKind.TYRE)["width code"]
    WHEEL = roles_by_name(PartKind.TYRE)["wheel"]
    SPEED = roles_by_name(PartKind.MOTOR)["no-load speed"]
    RESISTANCE = roles_by_name(PartKind.MOTOR)["resistance"]
    FAMILY = roles_by_name(PartKind.MOTOR)["family"]


def table(text: str, divider: str = ";") -> Table:
    rows = [
        line.split(divider) if line else [] for line in text.strip("\n").split("\n")
    ]
    return Table(rows=rows, facts=FACTS)


def taken(text: str, kind: PartKind = PartKind.TYRE) -> tuple[ColumnLayout, ReadRows]:
    read = table(text)
    layout = guess_layout(read, kind)
    return layout, read_rows(read, layout, kind)


ROLES: dict[str, tuple[str, list[ColumnRole]]] = {
    "plain": ("Tag;Ø\nA;18.4", [R.TAG, R.DIAMETER]),
    "three readings": ("Ø 1;Ø 2;Ø 3\n18.4;18.4;18.4", [R.DIAMETER] * 3),
    "edges": (
        "No;inner 1;inner 2;outer 1;outer 2\n1;18.4;18.4;18.5;18.5",
        [R.NAME, R.INNER, R.INNER, R.OUTER, R.OUTER],
    ),
    "words": (
        (
            "Mark;Compound;Width code;Wheel;Drawer;Diameter;Width;Taper;Out of round;"
            "Shore A\n7;soft;11;16x10;A1;18.4;10.9;0.01;0.02;28"
        ),
        [
            R.NAME,
            R.COMPOUND,
            R.WIDTH_CODE,
            R.WHEEL,
            R.DRAWER,
            R.DIAMETER,
            R.WIDTH,
            R.TAPER,
            R.OUT_OF_ROUND,
            R.HARDNESS,
        ],
    ),
    "mean is left alone": (
        "d1;d2;mean\n18.4;18.5;18.45",
        [R.DIAMETER, R.DIAMETER, R.NOT_USED],
    ),
    "mean in other words is left alone": (
        "Messung 1;Messung 2;Mittelwert;Étendue mm\n18.4;18.5;18.45;9",
        [R.DIAMETER, R.DIAMETER, R.NOT_USED, R.NOT_USED],
    ),
    "title, two headings": (
        "Bag of March;;\n;Readings;\nNo;1;2\n1;18.4;18.5\n2;18.4;18.5",
        [R.NAME, R.DIAMETER, R.DIAMETER],
    ),
    "no heading": ("18.4;18.5\n18.4;18.6", [R.DIAMETER, R.DIAMETER]),
    "no heading, names": ("left one;18.4\nright one;18.5", [R.NAME, R.DIAMETER]),
    "unlike short words": ("a;b\nx;18.4\ny;18.5", [R.TAG, R.DIAMETER]),
    "words that are alike": ("a;b\nx;18.4\nx;18.5", [R.NOT_USED, R.DIAMETER]),
    "words that are long": (
        "a;b\nthe left one of two;18.4\nthe right one;18.5",
        [R.NOT_USED, R.DIAMETER],
    ),
    "row number that is no size": ("1;18.4\n2;18.5\n3;18.6", [R.NAME, R.DIAMETER]),
    "second of its kind": (
        "Tag;Tag;Ø\nA;B;18.4",
        [R.TAG, R.NOT_USED, R.DIAMETER],
    ),
    "units row": ("Tag;Ø\n;mm\nA;18.4", [R.TAG, R.DIAMETER]),
    "outside diameter": ("outside diameter;note\n18.4;x", [R.DIAMETER, NOTE]),
    "nothing but words": ("Tag;note\nA;b", [R.TAG, NOTE]),
    "heading in other words": (
        "Messwert 1;Messwert 2\n18.4;18.5",
        [R.DIAMETER, R.DIAMETER],
    ),
    "slips too": ("Tag;Ø\nA;1842\nB;1843", [R.TAG, R.DIAMETER]),
}


@pytest.mark.parametrize("name", ROLES)
def test_columns_are_taken_for(name: str) -> None:
    text, roles = ROLES[name]
    layout = guess_layout(table(text), PartKind.TYRE)
    assert list(layout.roles) == roles
    assert layout_from_json(layout_to_json(layout), PartKind.TYRE) == layout


KINDS_SAID: dict[str, tuple[str, PartKind | None]] = {
    "bare sizes": ("18.4;18.5\n18.4;18.6", PartKind.TYRE),
    "tyres": ("No;Compound;Ø 1;Ø 2\n1;soft;18.4;18.4\n2;soft;18.4;18.4", PartKind.TYRE),
    "tyres and their hardness": ("Tag;Ø;Shore\nA;18.4;28\nB;18.5;29", PartKind.TYRE),
    "gears": (
        "Tag;Teeth;Pitch;OD;Bore\nG1;28;64 pitch;11.9;2.38\nG2;30;64 pitch;12.7;2.38",
        PartKind.GEAR,
    ),
    "gears without a heading": (
        "G1;28;64 pitch;11.9\nG2;30;64 pitch;12.7",
        PartKind.GEAR,
    ),
    "gears in other words": ("Zähne;Ø\n28;11.9\n30;12.7", PartKind.GEAR),
    "pinions by the title": ("Pinions;\nteeth;bore\n9;2.0\n10;2.0", PartKind.GEAR),
    "motors": ("Tag;rpm\nM1;20150\nM2;21000", PartKind.MOTOR),
    "motors and their volts": (
        "Tag;Volts;rpm\nM1;12;20150\nM2;14;21000",
        PartKind.MOTOR,
    ),
    "motors by volts and windings": (
        "No;Volts;Windings;mass\n1;12;65;42.1\n2;14;70;42.0",
        PartKind.MOTOR,
    ),
    "guides": ("Tag;depth;thickness\nF1;6.5;2.9\nF2;6.4;2.9", PartKind.GUIDE),
    "whole numbers that may be teeth": (
        "Compound;X;Ø\nsoft;28;18.4\nfirm;28;18.5",
        None,
    ),
    "numbers of the rows": ("Compound;X;Ø\nsoft;4;18.4\nfirm;5;18.5", PartKind.TYRE),
    "nothing": ("a;b", None),
}


@pytest.mark.parametrize("name", KINDS_SAID)
def test_kind_of_the_parts_is_found_or_asked(name: str) -> None:
    text, kind = KINDS_SAID[name]
    assert guess_kind(table(text)) is kind


@pytest.mark.parametrize("kind", PartKind)
def test_volts_are_no_size_and_no_count(kind: PartKind) -> None:
    """Twelve of them may be a tyre of 12 mm or a pinion of 12 teeth by the number."""
    layout, _ = taken("Tag;Volts;Windings\nA;12;65\nB;14;70\nC;12;65", kind)
    assert layout.roles == (R.TAG, R.NOT_USED, R.NOT_USED)


def test_motor_without_a_speed_is_not_given_its_volts_for_one() -> None:
    _, read = taken("Tag;Volts;Ohm\nM1;12;1.1\nM2;14;1.2", PartKind.MOTOR)
    assert [(f.number, f.code) for f in read.faults] == [
        (2, "no_reading"),
        (3, "no_reading"),
    ]


def test_gears_are_known_by_their_cells() -> None:
    text = "spur;28;64 pitch;G1;11.9\ncrown;30;m0.5;G2;12.7"
    layout, read = taken(text, PartKind.GEAR)
    assert [role.name for role in layout.roles] == [
        "role",
        "teeth",
        "pitch name",
        "tag",
        "diameter",
    ]
    assert [dict(row.words) for row in read.rows] == [
        {"role": "spur", "teeth": "28", "pitch_name": "64 pitch"},
        {"role": "crown", "teeth": "30", "pitch_name": "m0.5"},
    ]


def test_which_gear_it_is_stands_under_a_heading_of_other_words() -> None:
    """Many a list has “Type” over spur and pinion; else type is the family."""
    roles = roles_by_name(PartKind.GEAR)
    gears = table("No;Type;Teeth\nG1;spur;28\nG2;Pinion;12\nTotal;;40")
    layout = guess_layout(gears, PartKind.GEAR)
    assert layout.roles == (roles["name"], roles["role"], roles["teeth"])
    families = table("No;Type;Gear;Teeth\nG1;spur;spur;28\nG2;spur;crown;30")
    layout = guess_layout(families, PartKind.GEAR)
    assert layout.roles[1:3] == (roles["family"], roles["role"])


def test_facts_that_a_gear_must_have_are_said_once_or_in_each_row() -> None:
    read = table("Tag;Teeth;Cut for\nG1;28;\nG2;;9\nG3;3;")
    layout = guess_layout(read, PartKind.GEAR)
    found = read_rows(read, layout, PartKind.GEAR, of_all={"role": "spur"})
    assert [row.tag for row in found.rows] == ["G1"]
    assert [(fault.number, fault.code) for fault in found.faults] == [
        (3, "no_fact"),
        (3, "only_of"),
        (4, "not_a_fact"),
        (4, "no_fact"),
    ]
    without = read_rows(read, layout, PartKind.GEAR)
    assert not without.rows


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("Tag;Ø\nA1;18.4x\nA2;18.5", 1),
        ("Tag;Ø\nA1;\nA2;18.5", 1),
        ("Tag;Ø\nA1;abc\nA2;18.5", 1),
        ("Tag;Ø\n\nA2;18.5", 1),
        ("A1;18.4x\nA2;18.5\nA3;18.5", 0),
        ("-18.4\n18.5\n18.6", 0),
        ("Ø 1;Ø 2\nmm;mm\n18.4;18.5", 2),
        ("Bag\nof March\nØ\n18.4", 3),
    ],
)
def test_wrong_first_row_does_not_pass_for_a_heading(text: str, first: int) -> None:
    assert guess_layout(table(text), PartKind.TYRE).first_row == first


def test_columns_of_motors_are_taken_for_theirs() -> None:
    layout, read = taken(
        "Tag;Type;rpm;Ω;Drawer\nM1;hand-out;20150;2.1;C1", PartKind.MOTOR
    )
    roles = [R.TAG, R.FAMILY, R.SPEED, R.RESISTANCE, R.DRAWER]
    assert list(layout.roles) == roles
    (row,) = read.rows
    assert [(one.quantity, one.millionths) for one in row.readings] == [
        (PartQuantity.MOTOR_SPEED, 20_150_000_000),
        (PartQuantity.MOTOR_RESISTANCE, 2_100_000),
    ]
    assert row.words == {"family": "hand-out", "drawer": "C1"}
    bare = guess_layout(table("M1;20150"), PartKind.MOTOR)
    assert list(bare.roles) == [R.NAME, R.SPEED]


def test_speed_in_groups_of_three_is_asked_not_guessed() -> None:
    _, read = taken("Tag;rpm\nM1;20,150", PartKind.MOTOR)
    assert [fault.code for fault in read.faults] == ["implausible"]


SIZES: dict[str, tuple[str, list[int | None]]] = {
    # Text, then what the sizes are in millionths, or None where the row is wrong.
    "points": ("Ø\n18.42\n18.4", [18_420_000, 18_400_000]),
    "commas": ("Ø\n18,42\n18,4", [18_420_000, 18_400_000]),
    "inches by plausibility": ("Ø\n0.724\n0.725", [18_389_600, 18_415_000]),
    "inches by the heading": ("Ø (in)\n0.724\n0.75", [18_389_600, 19_050_000]),
    "inches by the mark": ('Ø\n0.724in\n3/4"', [18_389_600, 19_050_000]),
    "mm by the heading": ("Ø mm\n18.42\n0.724in", [18_420_000, 18_389_600]),
    "mixed without marks": ("Ø\n18.42\n18.4\n0.724", [18_420_000, 18_400_000, None]),
    "with their unit": ("Ø\n18.42 mm\n18.4mm", [18_420_000, 18_400_000]),
}


@pytest.mark.parametrize("name", SIZES)
def test_sizes_are_read(name: str) -> None:
    text, expected = SIZES[name]
    _, read = taken(text)
    got = {row.number: row.readings[0].millionths for row in read.rows}
    assert [got.get(number) for number in range(2, 2 + len(expected))] == expected


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("Ø\n18.42\n18.44", DecimalSign.POINT),
        ("Ø\n18,42\n18,44", DecimalSign.COMMA),
        ("Ø\n18\n19", DecimalSign.POINT),
        ("Ø\n18,42\n1.234", DecimalSign.ASKED),
        ("Ø\n18,42\n18.44", DecimalSign.ASKED),
        ("Tag;Ø\n1,2;18.42\n1.3;18.44", DecimalSign.POINT),
        ("Ø\n18,42\nk. A.\nn.a.\n18,44", DecimalSign.COMMA),
        ("Ø\n18,42\ncf. below\n18,44", DecimalSign.COMMA),
    ],
)
def test_decimal_sign_is_found_or_asked(text: str, sign: DecimalSign) -> None:
    assert guess_layout(table(text), PartKind.TYRE).decimal is sign


FAULTS = {
    "letters": ("18.4x", "unknown_mark"),
    "a word": ("soft", "not_a_number"),
    "negative": ("-18.4", "negative"),
    "zero": ("0", "zero"),
    "not a number": ("NaN", "not_finite"),
    "infinite": ("inf", "not_finite"),
    "a power of ten": ("1.84e1", "exponent"),
    "groups": ("1 842", "grouped_digits"),
    "a slip": ("184.2", "implausible"),
    "too small to be one": ("2.5", "implausible"),
    "a date": ("2026-05-12", "date"),
    "a time": ("18:42:00", "date"),
    "another unit": ("18 g", "wrong_unit"),
    "full-width digits": ("１８.4", "foreign_digits"),
    "long": ("1" * 60, "too_long"),
    "nothing": ("", "no_reading"),
    "a formula as text": ("=A1+1", "letter_in_number"),
    "the other sign": ("18,4", "decimal_sign"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_wrong_cell_is_named_with_its_reason(name: str) -> None:
    cell, code = FAULTS[name]
    read_as = ColumnLayout(
        first_row=1, roles=(R.TAG, R.DIAMETER), decimal=DecimalSign.POINT
    )
    found = read_rows(table(f"Tag;Ø\nA;{cell}"), read_as, PartKind.TYRE)
    assert not found.rows
    (fault,) = found.faults
    assert (fault.number, fault.code) == (2, code)
    assert fault.sentence.endswith(".")
    assert len(fault.value) <= 40


def test_comma_is_read_where_either_sign_was_said() -> None:
    either = ColumnLayout(first_row=0, roles=(R.DIAMETER,), decimal=DecimalSign.EITHER)
    found = read_rows(table("18,4\n18.4"), either, PartKind.TYRE)
    assert len(found.rows) == 2


WORDS = {
    "a tag twice": ("A;soft\nA;firm", (3, "A", "tag_twice")),
    "a tag with a blank": ("A 1;soft", (2, "A", "bad_tag")),
    "a tag that is an address": ("new;soft", (2, "A", "bad_tag")),
    "a tag too long": ("ABCDEFGHIJKLM;soft", (2, "A", "bad_tag")),
    "a tag that cannot be seen": ("A\u200b;soft", (2, "A", "bad_tag")),
    "a word too long": (f"A;{'s' * 31}", (2, "B", "long_word")),
    "a word that cannot be printed": ("A;so\x85ft", (2, "B", "unprintable")),
}


@pytest.mark.parametrize("name", WORDS)
def test_wrong_word_is_named(name: str) -> None:
    body, (number, column, code) = WORDS[name]
    lines = [f"{line};18.4" for line in body.split("\n")]
    layout = ColumnLayout(first_row=1, roles=(R.TAG, R.COMPOUND, R.DIAMETER))
    read = Table(
        rows=[["Tag", "Compound", "Ø"], *(line.split(";") for line in lines)],
        facts=FACTS,
    )
    (fault,) = read_rows(read, layout, PartKind.TYRE).faults
    assert (fault.number, fault.column, fault.code) == (number, column, code)


def marked(mark: Mark, cell: str, role: ColumnRole) -> list[str]:
    read = Table(
        rows=[[cell, "18.4"]], facts=FACTS, marks={(0, 0): mark, (5, 5): Mark.ERROR}
    )
    layout = ColumnLayout(first_row=0, roles=(role, R.DIAMETER))
    return [one.code for one in read_rows(read, layout, PartKind.TYRE).faults]


def test_marked_cells_are_refused_where_they_matter() -> None:
    assert marked(Mark.LONG, "x" * 200, R.COMPOUND) == ["long_cell"]
    assert marked(Mark.ERROR, "", R.DIAMETER) == ["error_cell"]
    assert marked(Mark.FORMULA, "", R.DIAMETER) == ["formula"]
    assert marked(Mark.FORMULA, "18.4", R.DIAMETER) == []
    assert marked(Mark.MERGED, "18.4", R.DIAMETER) == ["merged"]
    assert marked(Mark.MERGED, "A", R.TAG) == ["merged"]
    assert marked(Mark.MERGED, "soft", R.COMPOUND) == []
    assert marked(Mark.ERROR, "", R.NOT_USED) == []


def test_formulas_are_counted_in_the_columns_that_are_read() -> None:
    read = Table(
        rows=[["Ø"], ["18.4"]],
        facts=FACTS,
        marks={(0, 0): Mark.FORMULA, (1, 0): Mark.FORMULA, (1, 7): Mark.FORMULA},
    )
    layout = ColumnLayout(first_row=1, roles=(R.DIAMETER,))
    assert read_rows(read, layout, PartKind.TYRE).formula_count == 1
    assert layout_role(layout, 7) is R.NOT_USED


def test_empty_rows_are_counted_and_numbers_stay_those_of_the_file() -> None:
    _, read = taken("Ø\n18.4\n\n;;\n18.5")
    assert [row.number for row in read.rows] == [2, 5]
    assert read.empty_count == 2


def test_every_seeded_fault_is_found_in_one_pass() -> None:
    # I2: 5,000 rows with 200 faults; every one by its row, and none besides.
    chance = random.Random(1)
    rows = [["Tag", "Ø"]] + [[f"T{n}", "18.42"] for n in range(5_000)]
    wrong = sorted(chance.sample(range(1, 5_001), 200))
    for number in wrong:
        rows[number][1] = chance.choice(["18.4x", "-1", "0", "abc", "1842", ""])
    read = Table(rows=rows, facts=FACTS)
    found = read_rows(read, guess_layout(read, PartKind.TYRE), PartKind.TYRE)
    assert [fault.number for fault in found.faults] == [place + 1 for place in wrong]
    assert len(found.rows) == 4_800


def test_signs_that_stand_for_nothing_are_blanks() -> None:
    _, read = taken("Tag;Ø;Compound;Width\nA;18.4;–;n/a\nB;18.5;soft;k. A.\n-;–;?;–")
    assert [dict(row.words) for row in read.rows] == [{}, {"compound": "soft"}]
    assert not read.faults
    assert read.empty_count == 1


def test_row_that_looks_like_a_sum_is_asked_about() -> None:
    text = "No;Ø\n1;18.40\nMean;18.42\n2;18.44\nTotal of all;36.84\nCount: 2;2"
    layout, read = taken(text)
    assert [row.number for row in read.rows] == [2, 4]
    assert [(f.number, f.value, f.code) for f in read.faults] == [
        (3, "Mean", "sum_row"),
        (5, "Total of all", "sum_row"),
        (6, "Count: 2", "sum_row"),
    ]
    part = read_rows(table(text), replace(layout, parts=(2,)), PartKind.TYRE)
    assert [row.number for row in part.rows] == [2, 3, 4]


#: Words of dictionaries for a mean, a sum and a count; from memory.
@pytest.mark.parametrize(
    "word",
    [
        *("Mittel", "Mittelwert", "Durchschnitt", "Summe", "Anzahl: 2", "Ø"),
        *("Arithmetisches Mittel", "Summe aller Teile", "Gesamt"),
        *("Moyenne", "Moyenne générale", "Somme", "Total de toutes les pièces"),
        *("Media", "Somma", "Totale generale", "Promedio", "Suma de los 2"),
        *("Gemiddelde", "Totaal"),
    ],
)
def test_row_that_looks_like_a_sum_in_another_language_is_asked_about(
    word: str,
) -> None:
    _, read = taken(f"Nr;Ø\n1;18.40\n2;18.44\n{word};18.42\n;;\n;{word}")
    assert [row.number for row in read.rows] == [2, 3]
    assert [(f.number, f.value, f.code) for f in read.faults] == [
        (4, word, "sum_row"),
        (6, word, "sum_row"),
    ]


def test_compound_between_soft_and_hard_is_no_mean() -> None:
    """“Mittel” and “media” say both; where a row begins so, it is asked."""
    text = "Nr;Compound;Ø\n1;mittel;18.40\n2;media;18.44\n;Mittel;18.42"
    _, read = taken(text)
    assert [row.words["compound"] for row in read.rows] == ["mittel", "media"]
    assert [(f.number, f.code) for f in read.faults] == [(4, "sum_row")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2019-05-12", "2019-05-12"),
        ("2019-05-12 00:00:00", "2019-05-12"),
        ("12.5.2019", "2019-05-12"),
        ("12 May 2019", "2019-05-12"),
        ("25/12/2019", "2019-12-25"),
        ("12/25/2019", "2019-12-25"),
        ("05/05/2019", "2019-05-05"),
        ("05/12/2019", "two_days"),
        ("last May", "not_a_day"),
        ("2999-01-01", "future_day"),
    ],
)
def test_day_is_read_or_asked_about(text: str, said: str) -> None:
    layout, read = taken(f"Tag;Date;Ø\nA;{text};18.4")
    assert layout.roles[1] is DATE
    days = [row.words["read_on"] for row in read.rows]
    assert days + [fault.code for fault in read.faults] == [said]


def test_sections_stand_with_their_readings() -> None:
    _, read = taken("Tag;inner;outer;Ø\nA;18.4;18.5;18.45")
    assert [one.section for one in read.rows[0].readings] == [
        Section.INNER,
        Section.OUTER,
        Section.MIDDLE,
    ]


def test_letters_of_columns_are_a_spreadsheets() -> None:
    assert all(column_number(column_letter(n)) == n for n in range(1_000))
    assert [column_letter(n) for n in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def test_heading_is_what_stands_over_the_first_number() -> None:
    read = table("Bag;\n;Ø\nTag;mm\nA;18.4")
    assert headings_of(read, 3) == ("Bag Tag", "Ø mm")


cells = st.text(max_size=12) | st.floats().map(str) | st.just("18.42")


@given(st.lists(st.lists(cells, max_size=4), max_size=8))
def test_no_table_is_beyond_reading(rows: list[list[str]]) -> None:
    read = Table(rows=rows, facts=FACTS)
    for kind in (PartKind.TYRE, PartKind.MOTOR):
        layout = guess_layout(read, kind)
        found = read_rows(read, layout, kind)
        numbers = {row.number for row in found.rows}
        assert numbers.isdisjoint(fault.number for fault in found.faults)
        assert layout.unit in LengthUnit
