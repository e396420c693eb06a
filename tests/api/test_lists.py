"""Whole lists out, streamed; and the example that reads a season with pandas."""

import csv
import io
import json
import tracemalloc
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from openpyxl import load_workbook

from deploy.api.read_season import drawn, rules_of
from inventory.api.foundation import streams
from inventory.compute.roles import Role
from inventory.compute.stock import PartKind, TyreFacts
from inventory.models import Part, Tyre
from tests.api.asking import Script, given, problem_of, script_of
from tests.api.test_operations import asked_of
from tests.architecture.test_permissions import make_club
from tests.builders import NOW, make_part, make_person

pytestmark = pytest.mark.django_db
MIB = 1024 * 1024


def content(script: Script, form: str) -> bytes:
    return streamed(script, f"parts/export.{form}?kind=tyre")


def streamed(script: Script, address: str) -> bytes:
    answer = script.get(address)
    assert answer.status_code == 200, answer.content
    return b"".join(answer.streaming_content)


def test_the_three_forms_say_the_same() -> None:
    script = script_of(make_person(Role.PARTS_KEEPER))
    # A formula to a spreadsheet (CWE-1236), text here.
    tags = sorted(make_part(TyreFacts(compound="=1+1")).tag for _ in range(3))
    said = {"quantity": "tyre_diameter", "texts": ["20.10", "20.12"], "gauge": 0}
    given(script.post(f"parts/{tags[0]}/readings", said), 201)
    lines = content(script, "jsonl").decode().splitlines()
    rows = [json.loads(line) for line in lines]
    assert [row["tag"] for row in rows] == tags
    text = content(script, "csv").decode("utf-8-sig")
    table = list(csv.DictReader(io.StringIO(text)))
    assert [row["tag"] for row in table] == tags
    assert table[0]["compound"] == "'=1+1"
    book = load_workbook(io.BytesIO(content(script, "xlsx")))
    sheet: Any = book.active
    first = dict(zip(*[[c.value for c in r] for r in list(sheet)[:2]], strict=True))
    assert first["compound"] == "=1+1"
    sizes = [value for name, value in rows[0].items() if "diameter" in name]
    assert sizes == [pytest.approx(20.10), pytest.approx(20.12)]


def test_any_list_goes_out_as_a_file() -> None:
    """Each list says the same by pages, by JSON lines, by CSV and as a workbook."""
    club = make_club()
    script = script_of(club.people[Role.CHIEF_SCRUTINEER])
    lists = [one for one in asked_of(club) if one.operation.is_list]
    assert {"list_nights", "list_sheets", "list_pairs", "list_entries"} <= {
        one.operation.name for one in lists
    }
    for one in lists:
        where = f"{one.address}{'&' if '?' in one.address else '?'}"
        items = given(script.get(one.address))["items"]
        lines = streamed(script, f"{where}as=jsonl").decode().splitlines()
        assert [json.loads(line) for line in lines] == items
        text = streamed(script, f"{where}as=csv").decode("utf-8-sig")
        table = list(csv.reader(io.StringIO(text)))
        gives = one.operation.gives
        assert gives is not None
        assert table[0] == list(gives().fields)
        assert len(table) == 1 + len(items)
        book: Any = load_workbook(io.BytesIO(streamed(script, f"{where}as=xlsx")))
        assert book.active.max_row == len(table)


def test_a_file_holds_every_page_of_what_was_asked(rows_a_page: int) -> None:
    script = script_of(make_person())
    tags = [make_part(TyreFacts(compound="soft")).tag for _ in range(rows_a_page + 2)]
    make_part(TyreFacts(compound="hard"))
    said = streamed(script, "parts?q=soft&ordering=-tag&fields=tag&as=csv").decode(
        "utf-8-sig"
    )
    assert said.split() == ["tag", *sorted(tags, reverse=True)]
    for wrong in ("as=pdf", "as=csv&limit=3", "as=csv&cursor=x", "as=csv&fields=x"):
        problem = problem_of(script.get(f"parts?{wrong}"), 400)
        assert problem["errors"][0]["field"] in wrong


@pytest.fixture
def rows_a_page(monkeypatch: pytest.MonkeyPatch) -> int:
    """Read three rows at a time."""
    monkeypatch.setattr(streams, "MOST_ROWS", 3)
    return 3


@pytest.mark.long
def test_a_hundred_thousand_parts_go_out_in_64_mib() -> None:
    script = script_of(make_person())
    for first in range(0, 100_000, 5_000):
        made = Part.objects.bulk_create(
            Part(tag=f"t{number}", kind=PartKind.TYRE, received_at=NOW)
            for number in range(first, first + 5_000)
        )
        Tyre.objects.bulk_create(Tyre(part=part, compound="soft") for part in made)
    answer = script.get("parts/export.jsonl?kind=tyre")
    tracemalloc.start()
    count = sum(piece.count(b"\n") for piece in answer.streaming_content)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 100_000
    assert peak <= 64 * MIB, peak / MIB


def test_the_example_reads_a_season(tmp_path: Path) -> None:
    passed = {"admitted": 9, "judged": 12}
    rules = [{"number": "1", "quantity": "weight_car", "passed": passed}]
    table = rules_of({"rules": rules})
    assert isinstance(table, pd.DataFrame)
    assert table.loc[0, "percent"] == pytest.approx(75.0)
    assert "75 %" in drawn(table)
    season = given(script_of(make_person()).get("season"))
    assert rules_of(season).empty
