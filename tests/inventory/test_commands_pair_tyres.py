"""The command without a server: tables, files, and exits that say something."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from django.core.management import CommandError, call_command

from tests.inventory import hostile

ROOT = Path(__file__).parents[2]
TRAP = "Tag,Ø,Compound\nA,18.00,soft\nB,18.04,soft\nC,18.05,soft\nD,18.09,firm\n"


@pytest.fixture
def bag(tmp_path: Path) -> Path:
    path = tmp_path / "bag.csv"
    path.write_text(TRAP, encoding="utf-8")
    return path


def run(*words: object) -> tuple[str, str]:
    out, err = io.StringIO(), io.StringIO()
    try:
        call_command("pair_tyres", *map(str, words), stdout=out, stderr=err)
    except CommandError as error:
        return out.getvalue(), f"{err.getvalue()}{error}"
    return out.getvalue(), err.getvalue()


def test_table_shows_the_best_there_is(bag: Path) -> None:
    # The greedy trap C7-13: the closest first would find one pair.
    out, err = run(bag, "--tolerance", "0.04")
    assert "2 pairs, 0 left over, 0 rejected" in out
    assert "0.040" in out
    assert not err


def test_groups_stagger_sets_and_rejects(bag: Path) -> None:
    out, _ = run(bag, "--tolerance", "0.04", "--group-by", "compound")
    assert "1 pairs, 2 left over" in out
    out, _ = run(bag, "--tolerance", "0.01", "--stagger", "0.05", "--track", "55")
    assert "2 pairs" in out
    assert "drift" in out
    out, _ = run(bag, "--tolerance", "0.1", "--sets", 4)
    assert "1 sets, 0 left over" in out
    out, _ = run(bag, "--readings", 2, "--out-of-round", "0.1", "--taper", "0.1")
    assert "0 pairs, 0 left over, 4 rejected" in out


def test_truing_plan_comes_with_its_caution(bag: Path) -> None:
    out, _ = run(bag, "--tolerance", "0", "--true", "0.5", "--floor", "17")
    assert "eye and dust protection" in out
    assert "18.040 -> 18.000, with A 18.000" in out
    out, _ = run(bag, "--tolerance", "0.04", "--true", "0.5")
    assert "none makes a pair" in out


def test_every_form_goes_to_a_file(bag: Path, tmp_path: Path) -> None:
    for name in ("out.csv", "out.xlsx", "out.json"):
        run(bag, "--tolerance", "0.04", "--output", tmp_path / name)
    assert (tmp_path / "out.csv").read_bytes().startswith(b"\xef\xbb\xbfpair,place,tag")
    rows = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    assert [row["tag"] for row in rows] == ["A", "B", "C", "D"]
    assert openpyxl.load_workbook(tmp_path / "out.xlsx").sheetnames == ["pairs"]
    run(bag, "--tolerance", "0.04", "--output", tmp_path / "out.txt")
    assert "2 pairs" in (tmp_path / "out.txt").read_text(encoding="utf-8")
    out, _ = run(bag, "--tolerance", "0.04", "--format", "csv")
    assert out.startswith("pair,place,tag")
    _, err = run(bag, "--format", "xlsx")
    assert "say --output" in err


def test_workbook_sheet_unit_and_names_are_taken(tmp_path: Path) -> None:
    path = tmp_path / "bag.xlsx"
    path.write_bytes(hostile.workbook([["No", "size"], ["7", 0.724], ["8", 0.725]]))
    out, _ = run(path, "--sheet", "Tyres", "--unit", "in")
    assert "18.390" in out
    bare = tmp_path / "bare.csv"
    bare.write_text("18.40\n18.41\n", encoding="utf-8")
    assert "row 1" in run(bare)[0]


@pytest.mark.parametrize(
    ("text", "words", "said"),
    [
        ("Tag,Ø\nA,18.4x\nB,-1\nC,18.4\n", [], ["row 2, column B “18.4x”", "row 3"]),
        ("Tag,Ø\nA,18.4x\nB,-1\nC,18.4\n", [], ["2 bad row(s) of 3"]),
        ("Tag;Ø\nA;18,4\nB;18.4\n", [], ["say --decimal"]),
        ("", [], ["empty"]),
        ("Tag,Ø\n", [], ["no row of data"]),
        ("<html>", [], ["web page"]),
        (TRAP, ["--tolerance", "x"], ["Expected a length"]),
        (TRAP, ["--sets", "1"], ["two members or more"]),
    ],
)
def test_bad_file_names_every_bad_row(
    tmp_path: Path, text: str, words: list[str], said: list[str]
) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text, encoding="utf-8")
    out, err = run(path, *words)
    assert not out
    for each in said:
        assert each in err


def test_decimal_sign_that_was_asked_can_be_said(tmp_path: Path) -> None:
    path = tmp_path / "both.csv"
    path.write_text("Tag;Ø\nA;18,4\nB;18.4\n", encoding="utf-8")
    assert "1 pairs" in run(path, "--decimal", "either")[0]


def test_row_that_is_wrong_as_a_whole_has_no_column(tmp_path: Path) -> None:
    path = tmp_path / "empty.csv"
    path.write_text("Tag,Ø\nA,\nB,18.4\n", encoding="utf-8")
    assert "row 2: the row has no diameter" in run(path)[1]


def test_missing_file_is_said(tmp_path: Path) -> None:
    assert "No such file" in run(tmp_path / "none.csv")[1]


def test_pipe_is_read_without_a_database_and_a_bad_one_ends_otherwise() -> None:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "FEELERBOOK_TEST_DATABASE": "postgresql://nobody@/none?host=/nowhere",
    }
    command = "{} manage.py pair_tyres - --tolerance 0.04"
    bad, good = (
        subprocess.run(
            command.format(sys.executable).split(),
            cwd=ROOT,
            env=environment,
            input=content,
            capture_output=True,
            check=False,
        )
        for content in (b"Tag,d\nA,x\n", TRAP.encode())
    )
    assert good.returncode == 0, good.stderr
    assert b"2 pairs" in good.stdout
    assert bad.returncode != 0
    assert b"row 2" in bad.stderr
