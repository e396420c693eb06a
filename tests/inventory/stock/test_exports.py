"""Every list goes out as a file, and what went out comes in again as nothing new."""

import io
import json
import zipfile
from http import HTTPStatus

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.actions.readings import TypedSizes, receive_measured
from inventory.actions.stock import NewPart, retire_part
from inventory.compute.roles import Role
from inventory.compute.stock import (
    KINDS,
    GearFacts,
    GearRole,
    GuideFacts,
    MotorFacts,
    PartFacts,
    PartKind,
    TyreFacts,
)
from inventory.files.child import messages_of
from inventory.files.refused import FileRefusedError
from inventory.files.roles import NOT_USED, roles_of
from inventory.forms.written.tables import heading_of, size_heading
from inventory.models import BatchDraft, Part
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db

FACTS: dict[PartKind, PartFacts] = {
    PartKind.TYRE: TyreFacts(compound="=soft", width_code="11", wheel="Ø 15 + 1"),
    PartKind.GEAR: GearFacts(
        role=GearRole.CROWN, teeth=31, pitch_name="64 pitch", cut_for_teeth=9
    ),
    PartKind.MOTOR: MotorFacts(family="long can"),
    PartKind.GUIDE: GuideFacts(family="deep", material="nylon"),
}


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


def stock_of(kind: PartKind) -> list[Part]:
    """Take in two parts with every size of their kind, one with none, one retired."""
    act, gauge = builders.act(), bags.gauge()
    texts = {}
    for place, size in enumerate(KINDS[kind].sizes):
        low, high = size.plausible or (1.0, 3.0)
        near = low + (high - low) * (0.3 + place / 50)
        texts[size.quantity] = [f"{near:.3f}", f"{near * 1.001:.6f}"]
    new = NewPart(facts=FACTS[kind], name=f"-{kind}, “1”", drawer="A 1;b")
    sized = TypedSizes(texts=texts, gauge=gauge)
    made = receive_measured(new, sized, count=3, act=act)
    main = KINDS[kind].main.quantity
    # One reading more than others have, and sizes that not every part has.
    few = TypedSizes(texts={main: [*texts[main], texts[main][0]]}, gauge=gauge)
    made += receive_measured(new, few, count=1, act=act)
    made += receive_measured(new, TypedSizes(texts={}), count=1, act=act)
    retire_part(made[0], reason="worn out by now", act=act)
    return made


def brought_back(keeper: Client, content: bytes, name: str) -> BatchDraft:
    said = {
        "name": "Back",
        "kind": "",
        "gauge": 0,
        "file": SimpleUploadedFile(name, content),
    }
    answer = keeper.post("/pairing/upload", said)
    assert answer.status_code == HTTPStatus.FOUND, answer.content.decode()
    return BatchDraft.objects.latest("pk")


@pytest.mark.parametrize("kind", PartKind)
def test_list_of_a_kind_comes_in_again_as_nothing_new(
    keeper: Client, kind: PartKind
) -> None:
    made = stock_of(kind)
    for form in ("csv", "csv-comma", "xlsx", "json"):
        for query, count in ((f"kind={kind}", 4), ("state=retired", 1)):
            out = keeper.get(f"/parts/export/{form}?{query}")
            ending = form[:4].removesuffix("-")
            assert f'"{KINDS[kind].plural}.{ending}"' in out["Content-Disposition"]
            draft = brought_back(keeper, out.content, f"parts.{ending}")
            page = keeper.get(f"/pairing/drafts/{draft.pk}")
            same = {"new": 0, "changed": 0, "same": count, "wrong": 0}
            assert page.context["counts"] == same, page.context["preview"].faults
            assert BatchDraft.objects.get(pk=draft.pk).kind == kind
            assert f"Nothing new: {count} part" in page.content.decode()
            keeper.post(f"/pairing/drafts/{draft.pk}/drop")
    assert Part.objects.count() == len(made)


@pytest.mark.parametrize("kind", PartKind)
def test_every_column_has_a_heading_that_is_known_again(kind: PartKind) -> None:
    roles = [role for role in roles_of(kind) if role is not NOT_USED]
    headings = {heading_of(role, kind) for role in roles}
    assert len(headings) == len(roles)
    assert {size_heading(role, kind) for role in roles if role.size} != set()


def test_all_parts_go_out_together_a_table_a_kind(keeper: Client) -> None:
    for kind in (PartKind.TYRE, PartKind.GEAR):
        stock_of(kind)
    book = keeper.get("/parts/export/xlsx").content
    assert openpyxl.load_workbook(io.BytesIO(book)).sheetnames == ["tyres", "gears"]
    packed = keeper.get("/parts/export/csv-comma")
    assert packed["Content-Disposition"] == 'attachment; filename="parts.zip"'
    with zipfile.ZipFile(io.BytesIO(packed.content)) as files:
        assert files.namelist() == ["tyres.csv", "gears.csv"]
        assert b"crown;31;64 pitch" in files.read("gears.csv")
    said = keeper.get("/parts/export/json").content
    assert {name: len(rows) for name, rows in json.loads(said).items()} == {
        "tyres": 4,
        "gears": 4,
    }
    # Of several lists the first is read, and another may be asked for.
    draft = brought_back(keeper, said, "parts.json")
    page = keeper.get(f"/pairing/drafts/{draft.pk}").content.decode()
    assert "Nothing new: 4 parts" in page
    assert "<b>JSON</b>" in page
    shown = keeper.get(f"/pairing/drafts/{draft.pk}").context["form"]
    again = {name: shown[name].value() for name in shown.fields} | {"sheet": "gears"}
    keeper.post(f"/pairing/drafts/{draft.pk}/columns", again)
    (*_, last) = messages_of(said, sheet="gears")
    assert last["facts"]["sheet"] == "gears"
    assert BatchDraft.objects.get(pk=draft.pk).sheet == "gears"


def test_list_goes_out_as_it_is_filtered(keeper: Client) -> None:
    stock_of(PartKind.TYRE)
    stock_of(PartKind.MOTOR)
    rows = json.loads(keeper.get("/parts/export/json?q=long").content)
    assert len(rows) == 4
    assert {row["held by"] for row in rows} == {""}
    # A search that finds nothing gives a table with headings alone.
    nothing = keeper.get("/parts/export/csv?q=nothing+of+the+kind").content
    assert nothing.decode("utf-8-sig").startswith("tag,name,compound")
    assert keeper.get("/parts/export/pdf").status_code == HTTPStatus.NOT_FOUND
    page = keeper.get("/parts?q=long").content.decode()
    assert "/parts/export/csv-comma?q=long" in page


def test_pairs_go_out_a_part_a_row(keeper: Client) -> None:
    bags.make_set()
    rows = json.loads(keeper.get("/pairs/export/json").content)
    assert [row["place"] for row in rows] == [1, 2]
    assert len({row["pair"] for row in rows}) == 1
    assert json.loads(keeper.get("/pairs/export/json?q=nothing").content) == []


@pytest.mark.parametrize(
    ("content", "sheet", "sentence"),
    [
        (b"[1, 2]", "", "no list of objects"),
        (b'[{"a": [1]}]', "", "no list of objects"),
        (b'{"a": 1}', "", "no list of objects"),
        (b'{"a": [{"b": 1}]}', "c", "no list “c”"),
        (b"[{", "", "begins as JSON does"),
        (b"[" * 100_000, "", "begins as JSON does"),
    ],
)
def test_json_that_is_no_table_is_refused(
    content: bytes, sheet: str, sentence: str
) -> None:
    with pytest.raises(FileRefusedError, match=sentence):
        list(messages_of(content, sheet=sheet))


def test_json_is_read_as_its_values_are() -> None:
    said = [{"a": 1e-7, "b": None}, {"c": "ü", "a": True, "d": float("inf")}]
    first, *_ = messages_of(json.dumps(said).encode())
    assert first["rows"] == [
        ["a", "b", "c", "d"],
        ["0.0000001", "", "", ""],
        ["", "", "ü", ""],
    ]
