"""The command without a server: tables, files, and exits that say something."""

import io
import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from tests.inventory import hostile

ROOT = Path(__file__).parents[3]
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


def test_chance_of_a_set_is_that_of_all_its_tyres(tmp_path: Path) -> None:
    path = tmp_path / "four.csv"
    path.write_text("Tag,Ø\nA,18.40\nB,18.41\nC,18.41\nD,18.42\n", encoding="utf-8")
    words = (path, "--sets", 4, "--tolerance", "0.05", "--format", "json")
    out, _ = run(*words, "--repeatability", "0.02", "--resolution", "0.01")
    # A tyre out of round by 0.05 as usual, read at one angle, is off by 0.025/√2.
    u = math.hypot(0.02, 0.01 / math.sqrt(12), 0.025 / math.sqrt(2))
    rng = np.random.default_rng(4)
    true = rng.normal([18.40, 18.41, 18.41, 18.42], u, (200_000, 4))
    share = 100 * float(np.mean(np.ptp(true, axis=1) <= 0.05))
    (one,) = json.loads(out)["sets"]
    assert one["chance_percent"] == pytest.approx(share, abs=0.6)


def test_truing_plan_comes_with_its_caution(bag: Path) -> None:
    out, _ = run(bag, "--tolerance", "0", "--true", "0.5", "--floor", "17")
    assert "eye and dust protection" in out
    assert "18.040 -> 18.000, with A 18.000" in out
    clean = "--clean-up", "0.02"
    out, _ = run(bag, "--tolerance", "0", "--true", "0.5", "--floor", "17", *clean)
    assert "18.040 -> 17.980, with A 18.000" in out
    out, _ = run(bag, "--tolerance", "0.04", "--true", "0.5")
    assert "none makes a pair" in out


def test_every_form_goes_to_a_file(bag: Path, tmp_path: Path) -> None:
    for name in ("out.csv", "out.xlsx", "out.json"):
        run(bag, "--tolerance", "0.04", "--output", tmp_path / name)
    assert (tmp_path / "out.csv").read_bytes().startswith(b"\xef\xbb\xbfpair,place,tag")
    said = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    pairs = [[tyre["tag"] for tyre in one["tyres"]] for one in said["pairs"]]
    assert pairs == [["A", "B"], ["C", "D"]]
    assert [one["difference_mm"] for one in said["pairs"]] == [0.04, 0.04]
    assert said["left_over"] == said["rejected"] == []
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


def test_row_without_a_size_names_where_it_should_stand(tmp_path: Path) -> None:
    path = tmp_path / "empty.csv"
    path.write_text("Tag,Ø\nA,\nB,18.4\n", encoding="utf-8")
    assert "row 2, column B: the row has no diameter" in run(path)[1]


def test_rows_in_error_are_left_out_where_that_is_said(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text("Tag,Ø\nA,18.4\nB,x\nC,18.41\n", encoding="utf-8")
    assert "say --leave-out" in run(path)[1]
    out, err = run(path, "--leave-out")
    assert "1 pairs, 0 left over" in out
    assert "row 3, column B “x”" in err


def test_missing_file_is_said(tmp_path: Path) -> None:
    assert "No such file" in run(tmp_path / "none.csv")[1]


def test_grouping_that_the_file_does_not_say_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bag.csv"
    path.write_text("Tag,Ø,Sort\nA,18.40,red\nB,18.40,blue\n", encoding="utf-8")
    out, err = run(path, "--group-by", "compound")
    assert not out
    assert "No tyre of this bag says its compound" in err
    out, _ = run(path, "--group-by", "compound", "--column", "compound=Sort")
    assert "0 pairs, 2 left over" in out
    assert "1 pairs" in run(path)[0]


def test_columns_are_said_by_heading_or_letter(tmp_path: Path) -> None:
    path = tmp_path / "bag.csv"
    # Two columns that may be sizes, and the second of them is.
    text = "Bag of May,,\nTag,Shop ø,Ours\nA,18.0,18.40\nB,18.9,18.41\n"
    path.write_text(text, encoding="utf-8")
    said = "--column", "not used=B", "--column", "diameter=ours"
    out, err = run(path, *said, "--first-row", 3)
    assert "18.400" in out
    assert "1 pairs" in out
    assert not err
    # A word that another column had leaves it.
    out, _ = run(path, *said, "--column", "tag=C", "--column", "tag=A")
    assert "row 3" not in out
    for wrong, sentence in (
        (("--column", "colour=A"), "expected ROLE=COLUMN with one of not used, tag"),
        (("--column", "tag=Z"), "no column is headed “Z”; the letters are A to C."),
        (("--first-row", 9), "--first-row 9: the file has rows 1 to 4."),
    ):
        assert sentence in run(path, *wrong)[1]


def test_file_that_is_there_is_written_over_by_force_alone(
    bag: Path, tmp_path: Path
) -> None:
    path = tmp_path / "out.csv"
    path.write_text("mine", encoding="utf-8")
    assert f"{path} is there already: say --force" in run(bag, "--output", path)[1]
    assert path.read_text(encoding="utf-8") == "mine"
    run(bag, "--output", path, "--force")
    assert "pair,place,tag" in path.read_text(encoding="utf-8")
    assert "cannot be written" in run(bag, "--output", tmp_path / "no" / "a.csv")[1]


def ended(*words: str, content: bytes = b"") -> "subprocess.CompletedProcess[bytes]":
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "FEELERBOOK_TEST_DATABASE": "postgresql://nobody@/none?host=/nowhere",
    }
    return subprocess.run(
        [sys.executable, "manage.py", "pair_tyres", *words],
        cwd=ROOT,
        env=environment,
        input=content,
        capture_output=True,
        check=False,
    )


def test_pipe_is_read_without_a_database() -> None:
    good = ended("-", "--tolerance", "0.04", content=TRAP.encode())
    assert good.returncode == 0, good.stderr
    assert b"2 pairs" in good.stdout


@pytest.mark.parametrize(
    ("words", "content", "sentence"),
    [
        ("-", b"Tag,d\nA,x\n", "nothing was paired"),
        ("- --group-by wheel", TRAP.encode(), "No tyre of this bag says its wheel"),
        ("none.csv", b"", "none.csv cannot be read: No such file or directory."),
        ("- --sets two", b"", "argument --sets: invalid int value: 'two'"),
        ("- --colour red", b"", "unrecognized arguments: --colour red"),
        ("", b"", "the following arguments are required: file"),
    ],
)
def test_refusal_is_one_sentence_and_ends_with_two(
    words: str, content: bytes, sentence: str
) -> None:
    bad = ended(*words.split(), content=content)
    said = bad.stderr.decode().splitlines()
    assert bad.returncode == 2
    assert sentence in said[-1]
    assert all(line.startswith("row ") for line in said[:-1])
    assert not bad.stdout


def test_version_is_its_own() -> None:
    said = ended("--version")
    assert said.stdout.decode().strip() == settings.VERSION
    assert said.returncode == 0


def test_help_waits_for_no_library_that_only_the_work_needs() -> None:
    asked = (
        "import runpy, sys\n"
        "sys.argv = ['manage.py', 'pair_tyres', '--help']\n"
        "try:\n"
        "    runpy.run_path('manage.py', run_name='__main__')\n"
        "finally:\n"
        "    print(*sys.modules, file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
            "PYTHONPATH": str(ROOT),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    assert "--tolerance" in done.stdout
    loaded = set(done.stderr.split())
    assert "numpy" in loaded
    # SciPy's own door is light: it fetches its rooms when they are asked for.
    rooms = {f"scipy.{room}" for room in ("stats", "special", "optimize", "linalg")}
    assert loaded & {*rooms, "pandas"} == set()
