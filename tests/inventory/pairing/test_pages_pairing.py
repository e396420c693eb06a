"""From a table to labels, page by page."""

import io
import re
import time
from http import HTTPStatus

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.compute.batches.rows import BatchRow
from inventory.compute.batches.words import DraftState
from inventory.compute.measuring.instruments import CheckResult
from inventory.compute.pairing.matching import crowds
from inventory.compute.roles import Role
from inventory.compute.stock import MotorFacts
from inventory.compute.stock.words import PartState, Section
from inventory.files import limits
from inventory.loaders.batches import load_bag
from inventory.models import (
    AuditRow,
    Batch,
    BatchDraft,
    Draw,
    Pairing,
    Part,
    PartEstimate,
    PartMove,
    PartSet,
)
from tests import builders
from tests.conftest import QueryGrowth
from tests.inventory import bags, hostile

pytestmark = pytest.mark.django_db

HX = {"HX-Request": "true"}
SVG_MOST = 600 * 1024


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


@pytest.fixture
def member() -> Client:
    client = Client()
    client.force_login(builders.make_person())
    return client


def text(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined,no-any-return]


def upload(keeper: Client, content: bytes, name: str = "bag.csv") -> BatchDraft:
    answer = keeper.post(
        "/pairing/upload",
        {
            "name": "A bag",
            "kind": "tyre",
            "gauge": bags.gauge().mode.pk,
            "compound": "soft",
            "file": SimpleUploadedFile(name, content),
        },
    )
    assert answer.status_code == HTTPStatus.FOUND, text(answer)
    return BatchDraft.objects.latest("pk")


def columns(keeper: Client, draft: BatchDraft, **said: str) -> object:
    page = keeper.get(f"/pairing/drafts/{draft.pk}")
    form = page.context["form"]
    shown = {name: form[name].value() for name in form.fields}
    return keeper.post(f"/pairing/drafts/{draft.pk}/columns", shown | said)


def test_empty_page_says_what_it_is_for(keeper: Client, member: Client) -> None:
    assert "A bag of tyres comes in" in text(keeper.get("/pairing"))
    assert 'href="/pairing/new"' in text(keeper.get("/pairing"))
    assert 'href="/pairing/new"' not in text(member.get("/pairing"))


def test_file_is_looked_at_and_then_taken_whole(keeper: Client) -> None:
    rows = [["Tag", "Ø 1", "Ø 2", "Compound"]]
    rows += [[f"A{n}", f"18.{n:02d}", f"18.{n + 1:02d}", ""] for n in range(10, 40)]
    draft = upload(keeper, hostile.workbook(rows), "bag.xlsx")  # type: ignore[arg-type]
    page = text(keeper.get(f"/pairing/drafts/{draft.pk}"))
    for said in ("XLSX", "Tyres", "18.10", "Take 30 parts in", "bag.xlsx"):
        assert said in page
    assert "18.35" not in page  # the first twenty rows are shown
    assert not Part.objects.exists()
    answer = keeper.post(f"/pairing/drafts/{draft.pk}/take", follow=True)
    assert "30 parts are in stock." in text(answer)
    assert Part.objects.get(tag="A10").tyre.compound == "soft"
    assert not BatchDraft.objects.exists()


def test_chosen_file_is_kept_while_another_field_is_wrong(keeper: Client) -> None:
    def post(file: bytes | None = None, **said: object) -> object:
        sent = {"name": "A bag", "kind": "tyre", "gauge": "", "kept": "x"} | said
        if file is not None:
            sent["file"] = SimpleUploadedFile("bag.csv", file)
        return keeper.post("/pairing/upload", sent)

    assert "Choose the file" in text(post(gauge="0"))
    wrong = post(b"Tag,d\nA1,18.4\nA2,18.5\n")
    assert "<b>bag.csv</b> is kept" in text(wrong)
    kept = BatchDraft.objects.get()
    assert f'name="kept" value="{kept.pk}"' in text(wrong)
    # Another in its place, and still a field that is wrong: the new one is kept.
    other = post(b"Tag,d\nB1,18.4\nB2,18.5\nB3,18.6\n", kept=kept.pk, name="")
    kept = BatchDraft.objects.get()
    assert f'name="kept" value="{kept.pk}"' in text(other)
    # One that is too large to keep is said so, and the one before stays.
    empty = post(b"", kept=kept.pk)
    assert BatchDraft.objects.get() == kept
    assert "bag.csv" in text(empty)
    good = post(kept=kept.pk, gauge="0")
    made = BatchDraft.objects.get()
    assert good["Location"] == f"/pairing/drafts/{made.pk}"  # type: ignore[index]
    assert made.pk != kept.pk
    assert "Take 3 parts in" in text(keeper.get(f"/pairing/drafts/{made.pk}"))


def test_faults_stand_by_row_and_column_and_can_be_had_as_a_file(
    keeper: Client,
) -> None:
    draft = upload(keeper, "Tag;Ø\nA1;18,4x\n=cmd;-1\nA3;18,4\n".encode())
    page = text(keeper.get(f"/pairing/drafts/{draft.pk}"))
    assert "Take" not in re.findall(r"<button[^>]*>([^<]*)", page)
    assert "column B" in page
    assert "18,4x" in page
    file = keeper.get(f"/pairing/drafts/{draft.pk}/faults")
    assert file["Content-Type"].startswith("text/csv")
    lines = file.content.decode("utf-8-sig").splitlines()
    assert lines[1].startswith('2,B,"18,4x",unknown_mark,')
    assert lines[2].startswith("3,B,'-1,negative,")
    taken = keeper.post(f"/pairing/drafts/{draft.pk}/take")
    assert taken.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert not Part.objects.exists()


def test_columns_and_unit_are_said_otherwise(keeper: Client) -> None:
    draft = upload(keeper, b"Tag,a,b\nA1,0.724,18.40\nA2,0.725,18.42\n")
    columns(keeper, draft, role1="not used", role2="diameter")
    keeper.post(f"/pairing/drafts/{draft.pk}/take")
    assert PartEstimate.objects.current().get(part__tag="A1").value == 18_400_000


def test_wrong_columns_are_refused_and_kept_as_typed(keeper: Client) -> None:
    draft = upload(keeper, b"Tag,d\nA1,18.40\n")
    page = columns(keeper, draft, first_row="x", low="2O", role0="colour")
    assert page.status_code == HTTPStatus.UNPROCESSABLE_ENTITY  # type: ignore[attr-defined]
    assert 'value="2O"' in text(page)


def test_other_sheet_and_other_divider_are_read_again(keeper: Client) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.append(["nothing here"])
    page = book.create_sheet("Tyres")
    page.append(["Tag", "Ø"])
    page.append(["A1", 18.4])
    draft = upload(keeper, hostile.saved(book), "two.xlsx")
    columns(keeper, draft, sheet="Tyres")
    assert "18.4" in text(keeper.get(f"/pairing/drafts/{draft.pk}"))
    other = upload(keeper, b"18,42\n18,44\n")
    columns(keeper, other, divider=",")
    assert "comma" in text(keeper.get(f"/pairing/drafts/{other.pk}"))


def test_first_row_beyond_the_table_finds_nothing_and_says_so(keeper: Client) -> None:
    draft = upload(keeper, b"Tag,d\nA1,18.40\n\n")
    columns(keeper, draft, first_row="900")
    taken = keeper.post(f"/pairing/drafts/{draft.pk}/take", follow=True)
    assert "A1" in text(taken)


def test_paste_and_decimal_sign_that_is_asked(keeper: Client) -> None:
    said = {
        "name": "Pasted",
        "kind": "tyre",
        "gauge": bags.gauge().mode.pk,
        "table": "Tag\tØ\nA1\t18,42\nA2\t18.44",
    }
    keeper.post("/pairing/paste", said)
    draft = BatchDraft.objects.get()
    assert "Say below which is the decimal sign" in text(
        keeper.get(f"/pairing/drafts/{draft.pk}")
    )
    assert keeper.post(f"/pairing/drafts/{draft.pk}/take").status_code == 422
    columns(keeper, draft, decimal="either")
    keeper.post(f"/pairing/drafts/{draft.pk}/take")
    assert Part.objects.count() == 2


def test_forms_without_a_name_a_gauge_or_a_table_are_refused(keeper: Client) -> None:
    gauge = bags.gauge().mode.pk
    empty = SimpleUploadedFile("empty.csv", b"")
    for address, said in (
        ("upload", {"name": "A", "gauge": gauge, "kind": "tyre"}),
        ("upload", {"name": "A", "gauge": gauge, "kind": "tyre", "file": empty}),
        ("paste", {"name": "", "gauge": gauge, "kind": "tyre", "table": "18.4"}),
        ("paste", {"name": "A", "gauge": "", "kind": "tyre", "table": "18.4"}),
        ("caliper", {"name": "A", "gauge": gauge, "reading_count": "40"}),
    ):
        answer = keeper.post(f"/pairing/{address}", said)
        assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY, (address, said)
    assert not BatchDraft.objects.exists()
    assert not Batch.objects.exists()


def test_file_that_is_refused_says_why_and_is_dropped(keeper: Client) -> None:
    draft = upload(keeper, hostile.sheet("<row><c><v>1</v></c></row>" * 400_000))
    assert "times its weight" in text(keeper.get(f"/pairing/drafts/{draft.pk}"))
    keeper.post(f"/pairing/drafts/{draft.pk}/drop")
    assert not BatchDraft.objects.exists()


def test_large_file_is_read_while_its_page_waits(keeper: Client) -> None:
    draft = upload(
        keeper, b"Tag,d\n" + b"".join(b"T%d,18.42\n" % n for n in range(30_000))
    )
    assert draft.state == DraftState.WAITING
    page = text(keeper.get(f"/pairing/drafts/{draft.pk}"))
    assert 'hx-trigger="load, submit"' in page
    assert "will be read now" in text(
        keeper.get(f"/pairing/drafts/{draft.pk}", headers=HX)
    )
    BatchDraft.objects.update(
        state=DraftState.READING, rows_read=8_000, rows_in_all=30_001
    )
    progress = text(keeper.get(f"/pairing/drafts/{draft.pk}", headers=HX))
    assert 'max="30001" value="8000"' in progress
    assert "8000 of 30001 rows" in progress.replace(",", "")
    BatchDraft.objects.update(state=DraftState.WAITING)
    answer = keeper.post(f"/pairing/drafts/{draft.pk}/read", headers=HX)
    assert answer["HX-Refresh"] == "true"
    assert keeper.get(f"/pairing/drafts/{draft.pk}", headers=HX)["HX-Refresh"] == "true"
    assert "Take 30000 parts in" in text(
        keeper.get(f"/pairing/drafts/{draft.pk}")
    ).replace(",", "")


def test_page_of_a_file_that_is_gone_is_told_so_once(keeper: Client) -> None:
    draft = upload(keeper, b"Tag,d\nA1,18.40\n")
    address = f"/pairing/drafts/{draft.pk}"
    keeper.post(f"{address}/drop")
    told = text(keeper.get(address, headers=HX))
    assert "no longer here" in told
    assert "hx-get" not in told
    # The request that read it has nothing to show again.
    answer = keeper.post(f"{address}/read", headers=HX)
    assert answer.status_code == HTTPStatus.NO_CONTENT
    assert "HX-Refresh" not in answer
    assert keeper.get(address).status_code == HTTPStatus.NOT_FOUND


def test_file_too_large_is_refused_beside_its_field(keeper: Client) -> None:
    file = SimpleUploadedFile("big.csv", bytes(limits.BYTES + 10))
    said = {"name": "A", "gauge": bags.gauge().mode.pk, "kind": "tyre", "file": file}
    answer = keeper.post("/pairing/upload", said)
    assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "at most 20 MB" in text(answer)


def test_gauge_that_was_barred_meanwhile_keeps_the_draft_out(keeper: Client) -> None:
    draft = upload(keeper, b"Tag,d\nA1,18.40\n")
    assert draft.gauge_mode is not None
    builders.check(draft.gauge_mode.gauge, CheckResult.FAILED, at=builders.now())
    answer = keeper.post(f"/pairing/drafts/{draft.pk}/take")
    assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "check failed" in text(answer)


# --- parts of any kind --------------------------------------------------------------

GEARS = (
    "Tag;Teeth;Pitch;OD;Bore\nX1;28;64 pitch;11.90;2.38\nX2;31;64 pitch;13.00;2.38\n"
)


def paste(keeper: Client, table: str, **said: object) -> BatchDraft:
    form = {"name": "A tin", "gauge": bags.gauge().mode.pk, "table": table} | said
    answer = keeper.post("/pairing/paste", form)
    assert answer.status_code == HTTPStatus.FOUND, text(answer)
    return BatchDraft.objects.latest("pk")


def test_gears_come_in_by_the_road_of_tyres(keeper: Client) -> None:
    draft = paste(keeper, GEARS, role="spur", drawer="B2")
    assert draft.kind == "gear"
    page = text(keeper.get(f"/pairing/drafts/{draft.pk}"))
    # What the columns are stands above the button.
    assert page.index("What the columns") < page.index("Take 2 parts in")
    answer = keeper.post(f"/pairing/drafts/{draft.pk}/take")
    assert answer["Location"] == "/parts?kind=gear"
    gear = Part.objects.get(tag="X2").gear
    assert (gear.role, gear.teeth, gear.pitch_name) == ("spur", 31, "64 pitch")
    assert Part.objects.get(tag="X2").drawer == "B2"
    known = PartEstimate.objects.get(part__tag="X1", quantity="gear_diameter")
    assert known.value == 11_900_000
    # Whole words: the token of a form is sixty-four letters by chance.
    assert "X2" in re.findall(r"\w+", text(keeper.get("/parts?kind=gear")))
    assert "X2" not in re.findall(r"\w+", text(keeper.get("/parts?kind=tyre")))


def test_odd_gear_of_a_table_is_as_large_as_one_measured_by_its_page(
    keeper: Client,
) -> None:
    gauge = bags.gauge().mode.pk
    draft = paste(keeper, GEARS, role="spur", gauge=gauge)
    keeper.post(f"/pairing/drafts/{draft.pk}/take")
    said = {"role": "spur", "teeth": "31", "fixing": "screw", "tag": "X3"}
    sizes = {"size_gear_diameter": "13.00", "gauge": gauge}
    keeper.post("/parts/new/gear", said | sizes)
    figures = ("value", "random", "systematic", "count")
    row, page = (
        PartEstimate.objects.values_list(*figures).get(
            part__tag=tag, quantity="gear_diameter"
        )
        for tag in ("X2", "X3")
    )
    # Rounded to millionths once and twice.
    assert row == pytest.approx(page, abs=2)
    # Flat jaws over an odd count read short.
    assert row[0] > 13_000_000


def test_gears_are_never_taken_for_tyres(keeper: Client) -> None:
    draft = paste(keeper, GEARS, role="spur", kind="tyre")
    address = f"/pairing/drafts/{draft.pk}"
    page = text(keeper.get(address))
    assert "Taken for tyres, but the columns do not say so for sure" in page
    assert not re.search(r"parts in\s*</button>", page)
    assert keeper.post(f"{address}/take").status_code == 422
    assert not Part.objects.exists()
    columns(keeper, draft, kind="gear")
    keeper.post(f"{address}/take")
    assert {part.kind for part in Part.objects.all()} == {"gear"}


def test_kind_that_the_table_leaves_open_is_said_by_a_person(keeper: Client) -> None:
    draft = paste(keeper, "Compound;X;Ø\nsoft;28;18.40\nfirm;28;18.44\n")
    address = f"/pairing/drafts/{draft.pk}"
    assert keeper.post(f"{address}/take").status_code == 422
    columns(keeper, draft)
    keeper.post(f"{address}/take")
    assert {part.kind for part in Part.objects.all()} == {"tyre"}


def test_columns_are_taken_as_for_the_last_table_with_these_headings(
    keeper: Client,
) -> None:
    table = "Tag;a;b\n{0}1;18.40;18.90\n{0}2;18.42;18.91\n"
    first = paste(keeper, table.format("A"))
    columns(keeper, first, role1="not used", role2="diameter", high="40")
    keeper.post(f"/pairing/drafts/{first.pk}/take")
    second = paste(keeper, table.format("B"))
    page = text(keeper.get(f"/pairing/drafts/{second.pk}"))
    assert "As they were said for the last file with these headings" in page
    keeper.post(f"/pairing/drafts/{second.pk}/take", {"is_another": "on"})
    assert PartEstimate.objects.get(part__tag="B1", quantity="tyre_diameter").value == (
        18_900_000
    )
    # Other headings, or another kind, are looked at anew.
    other = paste(keeper, table.replace("Tag", "Mark").format("C"))
    assert not other.layout["is_kept"]
    assert other.layout["roles"][1] == "diameter"


def test_gauge_that_nobody_knows_has_a_doubt_of_its_own(keeper: Client) -> None:
    draft = paste(keeper, "Tag;Ø\nA1;18.4\nA2;18.5\n", gauge="0")
    keeper.post(f"/pairing/drafts/{draft.pk}/take")
    known = PartEstimate.objects.get(part__tag="A1", quantity="tyre_diameter")
    assert known.gauge_mode is None
    # Step 0.1 and permissible error 0.1, rectangular, scatter 0.05, by hand; and the
    # form of a tyre that is out of round by 0.05 as usual, at one angle: 0.025/√2.
    assert known.systematic == pytest.approx(0.1 / 3**0.5 * 1e6, rel=0.02)
    variance = 0.05**2 + 0.1**2 / 12 + 0.025**2 / 2
    assert known.random == pytest.approx(variance**0.5 * 1e6, rel=0.002)


def test_same_bag_is_noticed_whatever_it_is_called_and_asked_about(
    keeper: Client,
) -> None:
    first = paste(keeper, "No;Ø\na;18.40\nb;18.42\nc;18.50\n")
    keeper.post(f"/pairing/drafts/{first.pk}/take")
    again = paste(
        keeper, "Mark,d,Compound\n9,18.50,firm\n7,18.4,firm\n8,18.42,firm\n", name="New"
    )
    address = f"/pairing/drafts/{again.pk}"
    assert "as batch “A tin”" in text(keeper.get(address))
    refused = keeper.post(f"{address}/take")
    assert refused.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "say whether this is another bag" in text(refused)
    assert Part.objects.count() == 3
    keeper.post(f"{address}/take", {"is_another": "on"})
    assert Part.objects.count() == 6
    other = paste(keeper, "No;Ø\na;18.40\nb;18.42\nc;18.51\n", name="Other")
    assert "came in on" not in text(keeper.get(f"/pairing/drafts/{other.pk}"))


WRONG = "Tag;Ø;Note\nA1;18.40;new\nA2;184x;\nA3;;\nA4;18.42;\nMean;18.41;\n"


def test_wrong_rows_stay_out_and_the_others_come_in(keeper: Client) -> None:
    draft = paste(keeper, WRONG)
    address = f"/pairing/drafts/{draft.pk}"
    assert "Take 2 parts in, leave 3 rows out" in text(keeper.get(address))
    for said in ("0", "2"):
        refused = keeper.post(f"{address}/take", {"leave_out": said})
        assert refused.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
        assert "3 rows are wrong. Mend them, or leave them out." in text(refused)
    rest = keeper.get(f"{address}/rows").content.decode("utf-8-sig").splitlines()
    assert rest[0] == "row,Tag,Ø,Note,reason"
    assert [line.split(",")[:3] for line in rest[1:]] == [
        ["3", "A2", "184x"],
        ["4", "A3", ""],
        ["6", "Mean", "18.41"],
    ]
    keeper.post(f"{address}/take", {"leave_out": "3"})
    assert set(Part.objects.values_list("tag", flat=True)) == {"A1", "A4"}
    note = PartMove.objects.get(part__tag="A1").note
    assert note == "batch A tin; new"
    assert AuditRow.objects.get(event="batch.taken").detail["left_out"] == 3


def test_wrong_cells_are_mended_in_place(keeper: Client) -> None:
    draft = paste(keeper, WRONG)
    address = f"/pairing/drafts/{draft.pk}"
    page = text(keeper.get(address))
    assert 'name="cell-2-1" value="184x"' in page
    assert 'name="cell-3-1"' in page
    said = {"cell-2-1": "18.4", "cell-3-1": "18,5y", "part-5": "on"}
    assert keeper.post(f"{address}/mend", said).status_code == HTTPStatus.FOUND
    page = text(keeper.get(address))
    assert 'name="cell-3-1" value="18,5y"' in page
    assert "Take 4 parts in, leave 1 row out" in page
    keeper.post(f"{address}/mend", {"cell-3-1": "18.5"})
    assert "Take 5 parts in\n</button>" in text(keeper.get(address))
    keeper.post(f"{address}/take", {"leave_out": "0"})
    sizes = PartEstimate.objects.filter(quantity="tyre_diameter").values_list("value")
    assert sorted(sizes) == [
        (18_400_000,),
        (18_400_000,),
        (18_410_000,),
        (18_420_000,),
        (18_500_000,),
    ]


def test_cell_that_is_too_long_to_mend_is_kept_as_typed(keeper: Client) -> None:
    draft = paste(keeper, WRONG)
    answer = keeper.post(f"/pairing/drafts/{draft.pk}/mend", {"cell-2-1": "9" * 201})
    assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "9" * 201 in text(answer)


def test_row_whose_tag_is_on_another_kind_stays_out(keeper: Client) -> None:
    builders.make_part(MotorFacts(family="hand-out"), tag="A1")
    draft = paste(keeper, "Tag;Ø\nA1;18.40\nA2;18.42\n")
    address = f"/pairing/drafts/{draft.pk}"
    assert "Take 1 part in, leave 1 row out" in text(keeper.get(address))
    keeper.post(f"{address}/mend", {"cell-1-0": "A9"})
    keeper.post(f"{address}/take")
    assert set(Part.objects.filter(kind="tyre").values_list("tag", flat=True)) == {
        "A2",
        "A9",
    }


def test_old_list_is_an_old_list(keeper: Client) -> None:
    first = paste(
        keeper, "Tag;Ø;Date\nA1;18.40;\nA2;18.42;12.5.2021\n", read_on="2019-03-04"
    )
    keeper.post(f"/pairing/drafts/{first.pk}/take")
    diameters = PartEstimate.objects.filter(quantity="tyre_diameter")
    days = [one.taken_at.date().isoformat() for one in diameters.order_by("part__tag")]
    assert days == ["2019-03-04", "2021-05-12"]
    # A list between the two changes the one that was measured before it, alone.
    later = paste(keeper, "Tag;Ø\nA1;18.20\nA2;18.22\n", read_on="2020-01-01")
    keeper.post(f"/pairing/drafts/{later.pk}/take")
    current = diameters.filter(superseded_at=None).order_by("part__tag")
    assert [one.value for one in current] == [18_200_000, 18_420_000]
    assert diameters.count() == 4
    refused = keeper.post(
        "/pairing/paste",
        {"name": "B", "gauge": "0", "table": "18.4", "read_on": "2999-01-01"},
    )
    assert refused.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "has not come yet" in text(refused)


def test_row_that_is_a_part_in_one_file_is_asked_about_in_the_next(
    keeper: Client,
) -> None:
    first = paste(keeper, "No;Ø\nMean;18.40\n2;18.42\n")
    keeper.post(f"/pairing/drafts/{first.pk}/mend", {"part-1": "on"})
    keeper.post(f"/pairing/drafts/{first.pk}/take", {"leave_out": "0"})
    assert Part.objects.filter(name="Mean").exists()
    second = paste(keeper, "No;Ø\nMean;18.45\n2;18.47\n", name="Next")
    page = text(keeper.get(f"/pairing/drafts/{second.pk}"))
    assert "Take 1 part in, leave 1 row out" in page
    assert "As they were said for the last file with these headings" in page


# --- at the caliper ------------------------------------------------------------------


def start_bench(keeper: Client, **said: str) -> Batch:
    form = {"name": "Bench", "gauge": bags.gauge().mode.pk, "reading_count": "2"}
    keeper.post("/pairing/caliper", form | said)
    return Batch.objects.latest("pk")


def tyre(keeper: Client, batch: Batch, *texts: str, **said: str) -> object:
    page = keeper.get(f"/pairing/caliper/{batch.pk}")
    form = page.context["form"]
    names = [field.name for _, fields in form.reading_fields() for field in fields]
    readings = dict(zip(names, texts, strict=True))
    sent = {"gauge": batch.gauge_mode_id, "sent_id": form["sent_id"].value()}
    return keeper.post(f"/pairing/caliper/{batch.pk}", sent | readings | said)


def test_tyres_are_measured_one_after_another(keeper: Client) -> None:
    batch = start_bench(keeper, compound="firm")
    tyre(keeper, batch, "18,42", "18.44")
    tyre(keeper, batch, "0.725in", "18.42", name="seven")
    page = text(keeper.get(f"/pairing/caliper/{batch.pk}"))
    assert 'data-number="3"' in page
    assert "seven" in page
    assert load_bag(batch).bag.diameter_mm.tolist() == [18.43, 18.4175]
    assert Part.objects.get(name="seven").tyre.compound == "firm"


def test_edges_give_the_taper(keeper: Client) -> None:
    batch = start_bench(keeper, at_edges="on")
    page = tyre(keeper, batch, "18.40", "18.42", "18.50", "18.52")
    assert page.status_code == HTTPStatus.FOUND  # type: ignore[attr-defined]
    assert "+0.10" in re.sub(
        r"<[^>]*>", "", text(keeper.get(f"/pairing/caliper/{batch.pk}"))
    )


def test_slip_is_asked_about_and_taken_when_it_is_said_to_be_right(
    keeper: Client,
) -> None:
    batch = start_bench(keeper)
    asked = tyre(keeper, batch, "184.2", "18.44")
    assert asked.status_code == HTTPStatus.UNPROCESSABLE_ENTITY  # type: ignore[attr-defined]
    assert "Did the gauge show 18.42?" in text(asked)
    assert 'value="184.2"' in text(asked)
    assert "two fit" not in text(asked)
    alone = tyre(keeper, batch, "50", "18.44")
    assert "Did the gauge" not in text(alone)
    assert not Part.objects.exists()
    tyre(keeper, batch, "50", "50.1", right="on")
    assert Part.objects.count() == 1


@pytest.mark.parametrize("wrong", ["", "x", "-18.4", "0"])
def test_reading_that_is_none_keeps_the_tyre_out(keeper: Client, wrong: str) -> None:
    batch = start_bench(keeper)
    page = tyre(keeper, batch, wrong, "18.44")
    assert page.status_code == HTTPStatus.UNPROCESSABLE_ENTITY  # type: ignore[attr-defined]
    assert not Part.objects.exists()


def test_htmx_gets_the_bench_alone_for_the_next_tyre(keeper: Client) -> None:
    batch = start_bench(keeper)
    page = keeper.get(f"/pairing/caliper/{batch.pk}")
    sent = page.context["form"]["sent_id"].value()
    said = {"gauge": batch.gauge_mode_id, "sent_id": sent}
    said |= {"middle1": "18.42", "middle2": "18.44"}
    answer = keeper.post(f"/pairing/caliper/{batch.pk}", said, headers=HX)
    assert "<html" not in text(answer)
    assert 'data-number="2"' in text(answer)
    # Sent again because the answer was lost: it is one tyre.
    keeper.post(f"/pairing/caliper/{batch.pk}", said, headers=HX)
    assert Part.objects.count() == 1


def test_last_tyre_is_taken_out_again(keeper: Client) -> None:
    batch = start_bench(keeper)
    keeper.post(f"/pairing/caliper/{batch.pk}/drop")  # nothing there yet
    tyre(keeper, batch, "18.42", "18.44")
    keeper.post(f"/pairing/caliper/{batch.pk}/drop")
    keeper.post(f"/pairing/caliper/{batch.pk}/drop")
    assert Part.objects.get().state == PartState.RETIRED
    assert "taken out again" in text(keeper.get(f"/pairing/caliper/{batch.pk}"))


def test_barred_gauge_is_refused_at_the_bench(keeper: Client) -> None:
    batch = start_bench(keeper)
    assert batch.gauge_mode is not None
    builders.check(batch.gauge_mode.gauge, CheckResult.FAILED, at=builders.now())
    page = tyre(keeper, batch, "18.42", "18.44")
    assert "check failed" in text(page)
    again = keeper.post(
        "/pairing/caliper",
        {"name": "B", "gauge": batch.gauge_mode_id, "reading_count": "3"},
    )
    assert again.status_code == HTTPStatus.UNPROCESSABLE_ENTITY


# --- pairing -----------------------------------------------------------------------


def bag_of(*sizes: str, compound: str = "soft") -> Batch:
    return bags.make_batch(*sizes, words={"compound": compound})


def ask(client: Client, which: object, query: str = "", **headers: str) -> str:
    page = client.get(f"/pairing/of/{which}?{query}", headers=headers)
    inline = re.sub(r"</?span[^>]*>", "", text(page))
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", inline))


USUAL = "way=pairs&reading_count=1&max_removal=0.5&floor=8"


def test_page_shows_pairs_rest_chart_and_truing_plan(member: Client) -> None:
    batch = bag_of("18.40", "18.42", "18.70", "18.95")
    page = text(member.get(f"/pairing/of/{batch.pk}"))
    assert '<svg xmlns="http://www.w3.org/2000/svg" class="draw"' in page
    words = ask(member, batch.pk)
    assert "1 pair · 2 left over · 0 rejected" in words
    assert "1 more pair" in words
    assert "eye protection" in words
    assert "Confirm" not in words  # a member looks
    # 0.02 mm on 18.4 at 55 mm: 0.02 · 1000² / (4 · 55 · 18.41) mm, for small angles.
    assert "9.9mm/m" in words


def test_tolerance_that_moves_pairs_again(member: Client) -> None:
    batch = bag_of("18.00", "18.04", "18.05", "18.09")
    # The greedy trap C7-13, in hundredths.
    assert "2 pairs" in ask(member, batch.pk, f"{USUAL}&tolerance=0.04")
    assert "1 pair " in ask(member, batch.pk, f"{USUAL}&tolerance=0.01")
    swap = member.get(f"/pairing/of/{batch.pk}?{USUAL}&tolerance=0.04", headers=HX)
    assert text(swap).lstrip().startswith('<div id="paired"')


@pytest.mark.parametrize(
    ("sizes", "asked", "said", "then"),
    [
        (
            ("18.00", "18.00", "18.00", "18.01", "18.06", "18.10"),
            "stagger=0.05&tolerance=0.05",
            "2 left over · 0 rejected So many pairs are possible in this bag that",
            "these are not proven to be the most: at most 1 pair more is possible.",
        ),
        (
            ("18.01", "18.01", "18.09", "18.13", "18.14"),
            "stagger=0.03&tolerance=0.06",
            "1 left over · 0 rejected These are the most pairs there can be. All their",
            "departures from the stagger together are at most 0.010 mm more than the",
        ),
    ],
)
def test_pairs_that_are_not_proven_the_best_say_how_near_they_are(
    member: Client,
    monkeypatch: pytest.MonkeyPatch,
    sizes: tuple[str, ...],
    asked: str,
    said: str,
    then: str,
) -> None:
    way = f"way=pairs+with+stagger&reading_count=1&{asked}"
    batch = bag_of(*sizes)
    plain = ask(member, batch.pk, way)
    assert "proven" not in plain
    assert "there can be" not in plain
    # As a crowd is that does not come to an end.
    monkeypatch.setattr(crowds, "MOST_LINKS", 0)
    monkeypatch.setattr(crowds, "MOST_STEPS", 0)
    monkeypatch.setattr(crowds, "MOST_PROOFS", 1)
    assert f"{said} {then}" in ask(member, batch.pk, way)


def test_tolerance_that_is_none_is_refused_beside_its_field(member: Client) -> None:
    batch = bag_of("18.00", "18.04")
    for wrong in ("", "x", "-0.1", "1,2,3"):
        answer = member.get(
            f"/pairing/of/{batch.pk}", {"way": "pairs", "tolerance": wrong}
        )
        assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    answer = member.get(
        f"/pairing/of/{batch.pk}?{USUAL}&tolerance=0.05&track=-1&taper=x"
    )
    assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert text(answer).count("field-error") >= 2


def test_grouping_that_the_bag_does_not_say_is_greyed_with_its_reason(
    member: Client,
) -> None:
    batch = bag_of("18.40", "18.41")
    page = text(member.get(f"/pairing/of/{batch.pk}"))
    assert re.search(r"<b>1</b>\s+pair", page)
    assert "wheel: no tyre of this bag says it" in page
    assert re.search(r'value="wheel"[^>]* disabled', page)
    assert re.search(r'value="compound"[^>]* checked', page)
    answer = member.get(f"/pairing/of/{batch.pk}?{USUAL}&tolerance=0.05&group_by=wheel")
    assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "No tyre of this bag says its wheel" in text(answer)


def test_groups_stagger_features_and_sets(member: Client) -> None:
    batch = bag_of("18.40", "18.41", "18.60", "18.61")
    tyres = [one.part.tyre for one in batch.members.select_related("part__tyre")]
    tyres[1].compound = "firm"
    tyres[1].save()
    base = "reading_count=1&tolerance=0.05"
    assert "1 pair " in ask(member, batch.pk, f"way=pairs&{base}&group_by=compound")
    assert "2 pairs" in ask(member, batch.pk, f"way=pairs&{base}")
    staggered = ask(
        member, batch.pk, f"way=pairs+with+stagger&{base}&stagger=0.2&tolerance=0.02"
    )
    assert "2 pairs" in staggered
    several = "way=pairs+alike+in+several+measures"
    assert "lacks a measure" in ask(
        member, batch.pk, f"{several}&{base}&width_within=0.1"
    )
    in_form = ask(member, batch.pk, f"{several}&{base}&out_of_round_within=0.1")
    assert "2 pairs" in in_form
    assert "It speaks of the diameter alone" in in_form
    file = member.get(
        f"/pairing/of/{batch.pk}/csv?{several}&{base}&out_of_round_within=0.1"
    )
    assert "chance % of diameter" in file.content.decode()
    sets = f"way=sets+of+four&{base}&max_removal=0.5&floor=17"
    of_four = ask(member, batch.pk, f"{sets}&tolerance=0.3")
    assert "1 set " in of_four
    assert "the whole set really lies within" in of_four
    left = ask(member, batch.pk, f"{sets}&tolerance=0.05")
    # Two within the tolerance are no set of four, and nothing is cut for a pair.
    assert left.count("too few left within the tolerance for a set") == 4
    assert "Truing plan" not in left


def test_rejects_stand_with_their_reason(member: Client) -> None:
    rows = [
        bags.row("18.40", "18.41"),
        bags.row("18.40", "18.60", number=2),
        bags.row("18.40", number=3),
    ]
    batch = bags.take_rows(rows)
    words = ask(
        member, batch.pk, f"{USUAL}&tolerance=0.05&out_of_round=0.1&reading_count=2"
    )
    assert "out of round 0.20 mm, at most 0.1" in words
    assert "1 reading(s), at least 2 asked for" in words
    estimate = PartEstimate.objects.current().filter(quantity="tyre_diameter")
    low = estimate.order_by("pk")[0]
    PartEstimate.objects.filter(pk=low.pk).update(superseded_at=builders.NOW)
    for value in (1_840_000, 50_000_000):
        made = PartEstimate.objects.get(pk=low.pk)
        made.pk, made.value, made.superseded_at = None, value, None
        made.save(force_insert=True)
        words = ask(member, batch.pk, f"{USUAL}&tolerance=0.05")
        assert ("18.40 mm perhaps" in words) == (value < 2_000_000)
        assert ("outside 8 to 32 mm" in words) == (value > 32_000_000)
        PartEstimate.objects.filter(pk=made.pk).update(superseded_at=builders.NOW)


def test_taper_is_a_reason_too(member: Client) -> None:
    row = BatchRow(
        number=1,
        tag="",
        readings=(
            bags.reading("18.40", section=Section.INNER),
            bags.reading("18.60", section=Section.OUTER),
        ),
    )
    batch = bags.take_rows([row, bags.row("18.44", number=2)])
    words = ask(member, batch.pk, f"{USUAL}&tolerance=0.05&taper=0.1")
    assert "taper 0.20 mm, at most 0.1 either way" in words


def test_bag_with_nothing_to_pair_says_so(member: Client) -> None:
    assert "Nothing to pair" in ask(member, "loose")
    batch = bag_of("18.00", "19.00")
    assert "No two tyres of one group" in ask(member, batch.pk)
    assert member.get("/pairing/of/none").status_code == HTTPStatus.NOT_FOUND
    assert member.get("/pairing/of/999999").status_code == HTTPStatus.NOT_FOUND
    assert member.get(f"/pairing/of/{'9' * 30}").status_code == HTTPStatus.NOT_FOUND


def confirm(keeper: Client, which: object, query: str = "", **said: str) -> object:
    page = keeper.get(f"/pairing/of/{which}?{query}")
    seen = page.context["confirm_form"]["seen"].value()
    address = f"/pairing/of/{which}/confirm?{query}"
    return keeper.post(address, {"seen": seen} | said, follow=True)


def test_pairs_are_confirmed_labelled_and_undone(keeper: Client) -> None:
    batch = bag_of("18.40", "18.41", "18.50", "18.51", "19.00")
    page = confirm(keeper, batch.pk, drawer="P9", per_drawer="1")
    assert "2 pairs confirmed" in text(page)
    sets = list(PartSet.objects.order_by("pk"))
    assert [one.drawer for one in sets] == ["P9", "P10"]
    pairing = Pairing.objects.get()
    labels = text(keeper.get(f"/pairs/labels?pairing={pairing.pk}"))
    assert labels.count("<svg xmlns") == 2
    assert sets[0].tag in labels
    one = text(keeper.get(f"/pairs/labels?tag={sets[1].tag}"))
    assert one.count("<svg xmlns") == 1
    assert "No pair was ticked" in text(keeper.get("/pairs/labels?pairing=x"))
    part = Part.objects.filter(memberships__part_set=sets[0]).first()
    assert part is not None
    assert sets[0].tag in text(keeper.get(f"/parts/{part.tag}"))
    assert len(load_bag(batch)) == 1
    way_back = f"/pairing/confirmed/{pairing.pk}"
    assert way_back in text(keeper.get(f"/pairing/of/{batch.pk}"))
    keeper.post(f"/pairing/confirmed/{pairing.pk}/undo")
    assert way_back not in text(keeper.get(f"/pairing/of/{batch.pk}"))
    assert len(load_bag(batch)) == 5
    assert "undone" in text(keeper.get(f"/pairing/confirmed/{pairing.pk}"))
    again = keeper.post(f"/pairing/confirmed/{pairing.pk}/undo", follow=True)
    assert "undone before" in text(again)


@pytest.mark.parametrize(
    ("drawer", "per", "names"),
    [
        ("", "", ["", "", ""]),
        ("B", "", ["B", "B", "B"]),
        ("B", "2", ["B 1", "B 1", "B 2"]),
        ("B09", "1", ["B09", "B10", "B11"]),
    ],
)
def test_drawers_are_numbered_on(
    keeper: Client, drawer: str, per: str, names: list[str]
) -> None:
    batch = bag_of("18.40", "18.40", "18.60", "18.60", "18.80", "18.80")
    confirm(keeper, batch.pk, drawer=drawer, per_drawer=per)
    assert [one.drawer for one in PartSet.objects.order_by("pk")] == names


def test_bag_that_changed_since_is_not_confirmed(keeper: Client) -> None:
    batch = bag_of("18.40", "18.41")
    page = confirm(keeper, batch.pk, seen="0" * 64)
    assert "has changed since" in text(page)
    wrong = confirm(keeper, batch.pk, per_drawer="x")
    assert "Enter a whole number" in text(wrong)
    nothing = keeper.post(
        f"/pairing/of/{batch.pk}/confirm?way=pairs&tolerance=x", follow=True
    )
    assert nothing.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    far = bag_of("18.00", "19.00")
    assert "no pair to confirm" in text(confirm(keeper, far.pk))
    assert not Pairing.objects.exists()


def test_loose_tyres_of_all_batches_are_paired_together(keeper: Client) -> None:
    bag_of("18.40")
    bag_of("18.41")
    assert "All loose tyres" in text(keeper.get("/pairing"))
    page = confirm(keeper, "loose")
    assert "1 pair confirmed" in text(page)
    pairing = Pairing.objects.get()
    undone = keeper.post(f"/pairing/confirmed/{pairing.pk}/undo")
    assert undone["Location"] == "/pairing/of/loose"


def test_pair_is_handed_out_taken_back_and_split(keeper: Client) -> None:
    part_set, person = bags.make_set(), builders.make_person()
    address = f"/pairs/{part_set.tag}"
    assert "In stock" in text(keeper.get(address))
    assert keeper.post(f"{address}/hand-out", {}).status_code == 422
    keeper.post(f"{address}/hand-out", {"to_person": person.name})
    assert person.name in text(keeper.get(address))
    again = keeper.post(f"{address}/hand-out", {"to_person": person.name}, follow=True)
    assert "cannot be" in text(again)
    keeper.post(f"{address}/take-back")
    assert keeper.post(f"{address}/split", {"reason": ""}).status_code == 422
    keeper.post(f"{address}/split", {"reason": "one is cut"})
    assert "split" in text(keeper.get(address))
    assert keeper.get("/pairs/P0").status_code == HTTPStatus.NOT_FOUND


def test_pairs_are_found_by_tag_drawer_and_compound(member: Client) -> None:
    part_set = bags.make_set()
    PartSet.objects.update(drawer="P7")
    for query, found in (("", True), (part_set.tag.lower(), True), ("p7", True)):
        assert (part_set.tag in text(member.get(f"/pairs?q={query}"))) == found
    assert "No pair found" in text(member.get("/pairs?q=zzz"))


# --- files out ----------------------------------------------------------------------


def test_pairs_go_out_in_every_form(member: Client) -> None:
    batch = bag_of("18.40", "18.42", "19.00")
    csv = member.get(f"/pairing/of/{batch.pk}/csv?{USUAL}&tolerance=0.05")
    lines = csv.content.decode("utf-8-sig").splitlines()
    assert lines[0].startswith("pair,place,tag,name,diameter mm,difference mm")
    assert ",18.4,0.02," in lines[1]
    assert lines[-1].endswith("no partner left within the tolerance")
    comma = member.get(f"/pairing/of/{batch.pk}/csv-comma?{USUAL}&tolerance=0.05")
    assert ";18,4;0,02;" in comma.content.decode("utf-8-sig")
    xlsx = member.get(f"/pairing/of/{batch.pk}/xlsx?{USUAL}&tolerance=0.05")
    assert openpyxl.load_workbook(io.BytesIO(xlsx.content)).sheetnames == ["pairs"]
    assert member.get(f"/pairing/of/{batch.pk}/pdf").status_code == 404
    wrong = member.get(f"/pairing/of/{batch.pk}/csv?way=pairs&tolerance=x")
    assert wrong["Location"] == f"/pairing/of/{batch.pk}"
    taken_out = AuditRow.objects.filter(event="data.exported").order_by("id")
    assert [row.detail["form"] for row in taken_out] == ["csv", "csv-comma", "xlsx"]
    assert {row.subject for row in taken_out} == {f"pairs-{batch.pk}"}


@pytest.mark.parametrize("form", ["csv", "csv-comma", "xlsx", "json"])
def test_tyres_go_out_and_come_in_as_nothing_new(keeper: Client, form: str) -> None:
    text_in = (
        "Tag;Name;Compound;Width code;inner 1;inner 2;outer 1;Width;Out of round\n"
        "=cmd;-left;soft;11;18.40;18.4123;18.50;10.95;0.02\n"
        "A2;ü;'firm;;18.42;;18.52;;\n"
    )
    draft = upload(keeper, text_in.encode())
    keeper.post(f"/pairing/drafts/{draft.pk}/take")
    batch = Batch.objects.get()
    assert Part.objects.filter(tag="=cmd", name="-left").exists()
    out = keeper.get(f"/pairing/of/{batch.pk}/{form}?of=tyres")
    back = upload(keeper, out.content, f"tyres.{form[:4]}")
    page = keeper.get(f"/pairing/drafts/{back.pk}")
    assert page.context["counts"] == {"new": 0, "changed": 0, "same": 2, "wrong": 0}
    taken = keeper.post(f"/pairing/drafts/{back.pk}/take")
    assert "in stock already" in text(taken)


def test_tyres_of_a_batch_and_loose_ones_go_out(member: Client) -> None:
    batch = bag_of("18.40")
    part = batch.members.get().part
    for which in (batch.pk, "loose"):
        out = member.get(f"/pairing/of/{which}/csv?of=tyres").content
        assert part.tag in out.decode("utf-8-sig")


# --- motors -------------------------------------------------------------------------


def test_motors_are_matched_drawn_handed_out_and_taken_back(keeper: Client) -> None:
    assert "No draw yet" in text(keeper.get("/draws"))
    assert "No motor can be drawn" in text(keeper.get("/draws/new"))
    motors = "Tag,rpm,Ω\n" + "".join(
        f"M{n},{20_000 + 10 * n},2.1\n" for n in range(1, 8)
    )
    answer = keeper.post(
        "/pairing/paste",
        {"name": "Motors", "kind": "motor", "gauge": "", "table": motors},
    )
    draft = BatchDraft.objects.get()
    page = keeper.get(answer["Location"])
    assert "no-load speed" in text(page)
    taken = keeper.post(f"/pairing/drafts/{draft.pk}/take")
    assert taken["Location"] == "/draws/new"
    asked = "count=2&spare=1&speed=50&resistance=0.1"
    page = keeper.get(f"/draws/new?{asked}")
    assert len(page.context["sets"]) == 2
    assert "motors" in ask_list(keeper)
    said = {
        "name": "Final",
        "motors": page.context["sets"][0].tags,
        "drivers": "7\n12\n\n",
        "seed": "6 2 5",
    }
    wrong = keeper.post("/draws/new", said | {"drivers": "7\n7"})
    assert wrong.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    made = keeper.post("/draws/new", said)
    shown = text(keeper.get(made["Location"]))
    assert "Drawn again just now:" in shown
    assert "Same result" in shown
    assert "sha256sum" in shown
    keeper.post(f"{made['Location']}/hand-out")
    assert Part.objects.filter(state=PartState.WITH_MEMBER).count() == 2
    again = keeper.post(f"{made['Location']}/hand-out", follow=True)
    assert "cannot be" in text(again)
    keeper.post(f"{made['Location']}/take-back")
    assert not Part.objects.filter(state=PartState.WITH_MEMBER).exists()
    assert "Final" in text(keeper.get("/draws"))


def ask_list(client: Client) -> str:
    return text(client.get("/pairing"))


def test_match_that_cannot_be_is_refused(keeper: Client) -> None:
    bags.make_motors(("20150", "2.1"), ("20160", "2.1"))
    for query in ("count=x&spare=0&speed=1&resistance=1", "count=0&spare=0"):
        answer = keeper.get(f"/draws/new?{query}")
        assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    alone = keeper.get("/draws/new?count=1&spare=0&speed=100&resistance=1")
    assert len(alone.context["sets"]) == 1
    refused = keeper.get("/draws/new?count=2&spare=0&speed=2000000000&resistance=1")
    assert refused.status_code == HTTPStatus.UNPROCESSABLE_ENTITY


def test_motor_that_lacks_a_figure_is_named(keeper: Client) -> None:
    bags.make_motors(("20150", "2.1"))
    builders.make_part(MotorFacts(family="hand-out"))
    assert "1 not measured" in text(keeper.get("/draws/new"))


# --- size ---------------------------------------------------------------------------


def test_five_thousand_tyres_are_shown_small() -> None:
    member = Client()
    member.force_login(builders.make_person())
    rows = [
        bags.row(f"{17 + (n * 7919 % 4001) / 1000:.3f}", number=n) for n in range(5_000)
    ]
    batch = bags.take_rows(rows)
    member.get("/pairing")
    start = time.perf_counter()
    page = member.get(f"/pairing/of/{batch.pk}")
    seconds = time.perf_counter() - start
    assert len(page.context["strip"]) < SVG_MOST
    assert page.context["page"].paginator.count > 2_000
    # A second is promised (tests/bench prints it); many times that is a fault.
    assert seconds < 10


def test_pages_ask_the_same_of_the_database_for_many_rows(
    member: Client, same_queries: QueryGrowth
) -> None:
    def fill(rows: int) -> None:
        for number in range(rows):
            bags.make_batch(f"18.{number:02d}")

    same_queries(lambda: member.get("/pairing"), fill, at_most=9)


def test_pairing_page_asks_the_same_for_many_tyres(
    member: Client, same_queries: QueryGrowth
) -> None:
    batch = bags.make_bench(reading_count=1)

    def fill(rows: int) -> None:
        bags.measure(batch, *(f"18.{rows}{n:02d}" for n in range(rows)))

    same_queries(lambda: member.get(f"/pairing/of/{batch.pk}"), fill, at_most=12)


def test_lists_of_pairs_and_draws_ask_the_same_for_many(
    member: Client, same_queries: QueryGrowth
) -> None:
    def fill(rows: int) -> None:
        for _ in range(rows):
            bags.make_set()

    same_queries(lambda: member.get("/pairs"), fill, at_most=9)


def test_list_of_draws_asks_the_same_for_many(
    member: Client, same_queries: QueryGrowth
) -> None:
    def fill(rows: int) -> None:
        for number in range(rows):
            bags.make_draw(drivers=[str(number)], seed=f"{rows} {number}")

    same_queries(lambda: member.get("/draws"), fill, at_most=7)
    assert Draw.objects.count() == 30


def test_confirmed_pairs_ask_the_same_for_many(
    member: Client, same_queries: QueryGrowth
) -> None:
    addresses: list[str] = []

    def fill(rows: int) -> None:
        pairing = bags.make_pairing(rows)
        addresses.append(reverse("inventory:confirmed", args=[pairing.pk]))

    same_queries(lambda: member.get(addresses[-1]), fill, at_most=10)
