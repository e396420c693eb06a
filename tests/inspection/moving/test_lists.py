"""Lists by which a club moves in: recognised, tried, and taken all or not at all."""

import datetime as dt
import io
from collections.abc import Callable, Sequence
from html import unescape
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inspection.actions.moving.lists import bring_list, say_list_columns, take_list
from inspection.compute.lists import ListKind
from inspection.compute.night import EntryState
from inspection.files.lists.columns import COLUMNS_OF
from inspection.files.lists.reading import guess_columns, template
from inspection.models import Car, Entry, ListDraft, NightSums, RaceNight
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.files.exports import write_csv, write_xlsx
from inventory.models import AuditRow, Gauge, GaugeMode, Person
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def admin(client_of: Callable[[Person], Client]) -> Client:
    return client_of(builders.make_admin())


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def csv_of(*rows: str) -> bytes:
    return "\n".join(rows).encode()


def brought(kind: ListKind, *rows: str) -> ListDraft:
    act = builders.act(minutes=24 * 60)
    return bring_list(kind, csv_of(*rows), file_name="list.csv", act=act)


def taken(kind: ListKind, *rows: str, leave_out: bool = False) -> int:
    draft = brought(kind, *rows)
    assert leave_out or not draft.faults, draft.faults
    act = builders.act(minutes=24 * 60)
    tried = take_list(draft.pk, leave_out_wrong=leave_out, act=act)
    return tried.taken


def faults(kind: ListKind, *rows: str) -> list[tuple[int, str, str]]:
    return [tuple(one) for one in brought(kind, *rows).faults]


def test_people_come_in_with_their_roles_and_without_a_password() -> None:
    rows = ("Full name;Login;Role", "Élise Öst;;", "Ada Vane;ada;scrutineer, Member")
    assert taken(ListKind.PEOPLE, *rows) == 2
    elise = Person.objects.get(name="Élise Öst")
    assert elise.sign_in_name == "elise.ost"
    assert elise.roles == {Role.MEMBER}
    assert not elise.has_usable_password()
    assert Person.objects.get(sign_in_name="ada").roles == {
        Role.SCRUTINEER,
        Role.MEMBER,
    }
    assert AuditRow.objects.filter(event="list.taken", detail__rows=2).exists()


def test_people_of_one_name_get_sign_in_names_of_their_own() -> None:
    builders.make_person(name="Other")
    Person.objects.filter(name="Other").update(sign_in_name="ada.vane")
    assert taken(ListKind.PEOPLE, "Name", "Ada Vane") == 1
    assert Person.objects.get(name="Ada Vane").sign_in_name == "ada.vane2"


def test_members_who_are_here_are_left_out_with_a_sentence() -> None:
    here = builders.make_person(name="Ada Vane")
    draft = brought(ListKind.PEOPLE, "Name", "ada vane", "Bo Lark")
    assert draft.here == [
        [2, f"Ada Vane is here already and signs in as “{here.sign_in_name}”."]
    ]
    assert (draft.good_count, draft.faults) == (1, [])
    assert take_list(draft.pk, leave_out_wrong=False, act=builders.act()).taken == 1
    assert Person.objects.filter(name__iexact="ada vane").count() == 1


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("Bo Lark,taken,", "sign_in_name", "is taken"),
        ("Bo Lark,,steward", "roles", "“steward” was not expected: one of member"),
        ("李,,", "sign_in_name", "No sign-in name of plain letters"),
        (",bo,", "name", "Name is missing."),
        (f"{'x' * 81},,", "name", "longer than 80 letters"),
    ],
)
def test_wrong_person_is_named_with_what_was_expected(
    row: str, column: str, says: str
) -> None:
    person = builders.make_person(name="Somebody")
    Person.objects.filter(pk=person.pk).update(sign_in_name="taken")
    ((number, name, sentence),) = faults(
        ListKind.PEOPLE, "Name,Sign-in name,Roles", row
    )
    assert (number, name) == (2, column)
    assert says in sentence


def test_gauges_come_in_with_each_of_their_modes() -> None:
    rows = (
        "Name,Instrument,Mode,Unit,Step of its display,MPE,Check interval",
        "Caliper 9,Caliper,outside,mm,0.01,0.02,180",
        "Caliper 9,caliper,inside,mm,0.01,0.04,180",
        "Scale 9,scale,,g,0.1,0.2,",
    )
    assert taken(ListKind.GAUGES, *rows) == 3
    caliper = Gauge.objects.get(name="Caliper 9")
    assert caliper.check_every_days == 180
    modes = GaugeMode.objects.filter(gauge=caliper).values_list(
        "mode", "resolution", "max_permissible_error"
    )
    assert list(modes) == [("outside", 10_000, 20_000), ("inside", 10_000, 40_000)]
    assert Gauge.objects.get(name="Scale 9").check_every_days == 365
    assert len(brought(ListKind.GAUGES, *rows).here) == 3


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("A,laser,0.01,0.02,", "instrument", "“laser” was not expected"),
        ("A,caliper,fine,0.02,", "resolution", "fine"),
        ("A,caliper,0.01,-0.02,", "error", "less than nothing"),
        ("A,caliper,0.01,0.02,often", "days", "whole days were expected"),
    ],
)
def test_wrong_gauge_is_named(row: str, column: str, says: str) -> None:
    heading = "Name,Instrument,Step,Error,Days"
    ((_number, name, sentence),) = faults(ListKind.GAUGES, heading, row)
    assert name == column
    assert says in sentence


@pytest.mark.parametrize("kind", [ListKind.GAUGES, ListKind.PEOPLE])
@pytest.mark.parametrize("form", ["csv", "csv-comma", "xlsx"])
def test_what_a_list_gives_out_comes_in_again_as_nothing_new(
    admin: Client, kind: ListKind, form: str
) -> None:
    builders.make_gauge()
    builders.make_person(Role.SCRUTINEER, Role.PARTS_KEEPER, name="Ämne, Öst")
    answer = admin.get(f"/{kind.value}/export/{form}")
    name = "list.xlsx" if form == "xlsx" else "list.csv"
    draft = bring_list(kind, answer.content, file_name=name, act=builders.act())
    assert not draft.faults
    assert len(draft.here) == (1 if kind is ListKind.GAUGES else Person.objects.count())
    assert AuditRow.objects.filter(event="data.exported", subject=kind.value).exists()


def test_people_go_out_as_they_were_looked_for_and_without_secrets(
    admin: Client,
) -> None:
    builders.make_person(Role.SCRUTINEER, password="a long enough one", name="Ada Vane")
    rows = admin.get("/people/export/json?q=vane").json()
    assert [(row["Name"], row["Roles"]) for row in rows] == [("Ada Vane", "scrutineer")]
    assert set(rows[0]) == {"Name", "Sign-in name", "Roles", "may sign in"}


CARS = "Car number,Car,Owner,Class,Motor,What carries the front,Wheelbase (mm)"


def test_cars_come_in_with_their_geometry() -> None:
    owner = builders.make_person(name="Ada Vane")
    builders.make_class("Saloon")
    column = next(
        one for one in COLUMNS_OF[ListKind.CARS] if one.name == "wheelbase_left"
    )
    # A heading with a comma in it is quoted, as RFC 4180 has it.
    heading = CARS.replace("Wheelbase (mm)", f'"{column.heading}"')
    row = "7,Blue Heron,ada vane,saloon,inline,Front wheels,80.5"
    assert taken(ListKind.CARS, heading, row) == 1
    car = Car.objects.get(owner=owner)
    assert (car.number, car.name, car.layout) == ("7", "Blue Heron", "in-line")
    value = builders.sizes_of_cars().get(car=car)
    assert (value.column, value.value) == ("wheelbase_left", 80_500_000)
    # An admin who does not measure for the club declares.
    assert value.is_declared
    assert "is here already" in brought(ListKind.CARS, heading, row).here[0][1]


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("7,A,Nobody,Saloon,in-line,front wheels,", "owner", "bring the people in"),
        ("7,A,Twin,Saloon,in-line,front wheels,", "owner", "several people's name"),
        ("7,A,Ada Vane,Rally,in-line,front wheels,", "race_class", "one of Saloon"),
        ("7!,A,Ada Vane,Saloon,in-line,front wheels,", "number", "letters and digits"),
        ("7,A,Ada Vane,Saloon,rotary,front wheels,", "layout", "rotary"),
        ("7,A,Ada Vane,Saloon,in-line,front wheels,long", "wheelbase_left", "long"),
    ],
)
def test_wrong_car_is_named(row: str, column: str, says: str) -> None:
    builders.make_person(name="Ada Vane")
    builders.make_person(name="Twin")
    builders.make_person(name="Twin")
    builders.make_class("Saloon")
    heading = CARS.replace("Wheelbase (mm)", "wheelbase_left")
    ((_number, name, sentence),) = faults(ListKind.CARS, heading, row)
    assert name == column
    assert says in sentence


def test_car_of_a_class_where_there_is_none_yet() -> None:
    builders.make_person(name="Ada Vane")
    row = "7,A,Ada Vane,Saloon,in-line,front wheels,"
    ((_number, _name, sentence),) = faults(ListKind.CARS, CARS, row)
    assert "there is none yet" in sentence


RESULTS = "Date,Race night,Place,Car,Class,Driver,Result"


def test_past_results_make_closed_nights_that_the_pages_show(admin: Client) -> None:
    car, other = builders.make_car(), builders.make_car()
    driver = builders.make_person(name="Ada Vane")
    rows = (
        RESULTS,
        f"2024-03-01,Spring,The hall,{car.tag},,,passed",
        f"1 March 2024,Spring,,{other.number} {other.name},Saloon,Ada Vane,SENT BACK",
    )
    assert taken(ListKind.RESULTS, *rows) == 2
    night = RaceNight.objects.get(name="Spring")
    assert night.date == dt.date(2024, 3, 1)
    assert night.closed_at is not None
    found = {entry.car_id: entry for entry in Entry.objects.filter(night=night)}
    assert found[car.pk].state == EntryState.PASSED
    assert found[car.pk].driver == car.owner
    assert found[other.pk].state == EntryState.SENT_BACK
    assert found[other.pk].driver == driver
    assert "past results" in found[car.pk].moves.get().reason
    assert NightSums.objects.filter(night=night).exists()
    for name, args in (
        ("inspection:night_list", [night.pk]),
        ("inspection:season", []),
        ("inspection:tonight", []),
        ("inspection:car", [car.tag]),
    ):
        assert admin.get(reverse(name, args=args)).status_code == 200, name
    assert len(brought(ListKind.RESULTS, *rows).here) == 2


def test_wrong_results_are_named() -> None:
    sheet = builders.make_sheet()
    held, car = sheet.entry.night, builders.make_car()
    twin = builders.make_car()
    Car.objects.filter(pk=twin.pk).update(number=car.number, name=car.name)
    other = builders.make_car()
    rows = (
        RESULTS,
        f"soon,Spring,,{other.tag},,,passed",
        f"2199-01-01,Spring,,{other.tag},,,passed",
        f"{held.date},{held.name},,{other.tag},,,passed",
        f"2024-03-01,Spring,,{car.number},,,passed",
        "2024-03-01,Spring,,nothing,,,passed",
        f"2024-03-01,Spring,,{other.tag},,,champion",
        f"2024-03-01,Spring,,{car.tag},,,passed",
        f"2024-03-01,Spring,,{twin.tag},,,passed",
    )
    said = faults(ListKind.RESULTS, *rows)
    assert [(number, column) for number, column, _ in said] == [
        (2, "date"),
        (3, "date"),
        (4, "night"),
        (5, "car"),
        (6, "car"),
        (7, "result"),
        (9, "car"),
    ]
    sentences = [sentence for _number, _column, sentence in said]
    for sentence, words in zip(
        sentences,
        (
            "is no day",
            "is not over",
            "was held here",
            "its tag says which",
            "bring the cars in first",
            "one of passed, sent back, withdrawn",
            "Another car has number",
        ),
        strict=True,
    ):
        assert words in sentence


def test_all_or_nothing_unless_the_wrong_rows_are_left_out() -> None:
    draft = brought(ListKind.PEOPLE, "Name,Roles", "Bo Lark,", "Ada Vane,steward")
    before = Person.objects.count()
    with pytest.raises(RefusedError, match="1 rows are wrong; nothing was taken"):
        take_list(draft.pk, leave_out_wrong=False, act=builders.act())
    assert Person.objects.count() == before
    assert ListDraft.objects.filter(pk=draft.pk).exists()
    assert take_list(draft.pk, leave_out_wrong=True, act=builders.act()).taken == 1
    assert not ListDraft.objects.exists()
    with pytest.raises(RefusedError, match="taken or thrown away already"):
        take_list(draft.pk, leave_out_wrong=True, act=builders.act())


def test_trying_a_list_writes_nothing_but_the_list() -> None:
    before = Person.objects.count(), AuditRow.objects.count()
    brought(ListKind.PEOPLE, "Name", "Bo Lark", "Cy Fern")
    # The admin who acts is made by the builders, and the upload is audited.
    assert not Person.objects.filter(name="Bo Lark").exists()
    assert not AuditRow.objects.filter(event="person.added").exists()
    assert AuditRow.objects.count() > before[1]


def test_list_with_nothing_new_is_not_taken() -> None:
    builders.make_person(name="Ada Vane")
    draft = brought(ListKind.PEOPLE, "Name", "Ada Vane")
    with pytest.raises(RefusedError, match="no row that is new and right"):
        take_list(draft.pk, leave_out_wrong=True, act=builders.act())


@pytest.mark.parametrize("kind", ListKind)
def test_templates_are_recognised_column_by_column(kind: ListKind) -> None:
    table = template(kind)
    layout = guess_columns(
        [table.headings, *([str(cell) for cell in row] for row in table.rows)], kind
    )
    assert layout.first_row == 1
    whole = [one.name for one in COLUMNS_OF[kind] if not one.part_of]
    assert list(layout.names) == whole
    assert write_csv(table).count(b"\r\n") == 2
    # Another program's reader of workbooks says the same.
    book = openpyxl.load_workbook(io.BytesIO(write_xlsx(table)))
    headings = [cell.value for cell in next(book.worksheets[0].iter_rows())]
    assert headings == list(table.headings)


def test_heading_is_found_below_a_title() -> None:
    rows: Sequence[list[str]] = [
        ["Our members"],
        [],
        ["", "Full name"],
        ["", "Bo Lark"],
    ]
    layout = guess_columns(rows, ListKind.PEOPLE)
    assert (layout.first_row, layout.names) == (3, ("", "name"))
    assert guess_columns([], ListKind.PEOPLE).names == ()


@pytest.mark.parametrize(
    ("heading", "row"),
    [
        ("First name;Surname;Role", "Ada;Vane;scrutineer"),
        ("Last name;First name;Role", "Vane;Ada;scrutineer"),
        ("Vorname;Name;Role", "Ada;Vane;scrutineer"),
        # The whole name stands beside the first one.
        ("First name;Name;Role", "Ada;Ada Vane;scrutineer"),
        ("First name;Surname;Full name;Role", "A.;Vane;Ada Vane;scrutineer"),
    ],
)
def test_first_name_and_surname_make_the_name(heading: str, row: str) -> None:
    assert taken(ListKind.PEOPLE, heading, row) == 1
    ada = Person.objects.get(name="Ada Vane")
    assert ada.sign_in_name == "ada.vane"
    assert ada.roles == {Role.SCRUTINEER}


def test_person_of_one_name_needs_no_surname() -> None:
    assert taken(ListKind.PEOPLE, "First name,Surname", "Bo,", ",Lark") == 2
    assert Person.objects.filter(name__in=["Bo", "Lark"]).count() == 2


def test_page_says_that_two_columns_are_joined(admin: Client) -> None:
    rows = csv_of("Nr,Surname,First name", "1,Vane,Ada", "2,Lark,Bo")
    file = SimpleUploadedFile("people.csv", rows)
    words = text_of(admin.post("/club/lists/people", {"file": file}, follow=True))
    assert "Name is made of two columns: First name + Surname" in words
    assert '<th scope="col">Name</th>' in words
    assert "<td>Ada Vane</td>" in words
    assert '<th scope="col">Surname</th>' not in words
    # One of the two alone is no name.
    draft = ListDraft.objects.get()
    say_list_columns(draft.pk, ["", "surname", ""], first_row=1, act=builders.act())
    words = text_of(admin.get(reverse("inspection:list_draft", args=[draft.pk])))
    assert "No column was recognised as: <b>Name</b>" in words
    assert "is made of two columns" not in words


def test_joined_name_that_is_too_long_is_named() -> None:
    (fault,) = faults(ListKind.PEOPLE, "First name,Surname", f"{'x' * 50},{'y' * 50}")
    assert fault[1] == "name"
    assert "longer than 80 letters" in fault[2]


def test_columns_that_were_not_recognised_are_said(admin: Client) -> None:
    file = SimpleUploadedFile("people.csv", csv_of("Wer,Als", "Bo Lark,member"))
    answer = admin.post("/club/lists/people", {"file": file}, follow=True)
    words = text_of(answer)
    assert "No column was recognised as: <b>Name</b>" in words
    draft = ListDraft.objects.get()
    said = {"first_row": "2", "column0": "name", "column1": "roles"}
    columns = reverse("inspection:list_columns", args=[draft.pk])
    twice = admin.post(columns, said | {"column1": "name"})
    assert twice.status_code == 422
    assert "“Name” is one column" in text_of(twice)
    assert admin.post(columns, said | {"first_row": "x"}).status_code == 422
    words = text_of(admin.post(columns, said, follow=True))
    assert "Take 1 row" in words
    assert "1 is new and right" in words
    take = reverse("inspection:take_list", args=[draft.pk])
    words = text_of(admin.post(take, follow=True))
    assert "1 rows of people are in." in words
    assert "no password yet: hand each a link" in words
    assert Person.objects.filter(name="Bo Lark").exists()
    assert (
        admin.get(reverse("inspection:list_draft", args=[draft.pk])).status_code == 404
    )


def test_column_that_there_is_not_is_refused() -> None:
    draft = brought(ListKind.PEOPLE, "Name", "Bo Lark")
    with pytest.raises(RefusedError, match="none that there is"):
        say_list_columns(draft.pk, ["shoe size"], first_row=1, act=builders.act())


def test_wrong_rows_are_shown_and_given_as_a_file(admin: Client) -> None:
    rows = csv_of("Name,Roles", "Bo Lark,", "=cmd,steward", "Cy Fern,steward")
    file = SimpleUploadedFile("people.csv", rows)
    words = text_of(admin.post("/club/lists/people", {"file": file}, follow=True))
    assert "Take 1 row, leave the wrong ones out" in words
    draft = ListDraft.objects.get()
    given = admin.get(reverse("inspection:list_wrong_rows", args=[draft.pk]))
    lines = given.content.decode("utf-8-sig").splitlines()
    assert lines[0] == "Name,Roles,What is wrong"
    assert lines[1].startswith("'=cmd,steward,")
    assert len(lines) == 3
    take = reverse("inspection:take_list", args=[draft.pk])
    refused = text_of(admin.post(take, follow=True))
    assert "2 rows are wrong; nothing was taken." in refused
    assert admin.post(take, {"leave_out": "1"}).status_code == 302
    assert Person.objects.filter(name="Bo Lark").exists()


def test_list_is_thrown_away(admin: Client) -> None:
    file = SimpleUploadedFile("people.csv", csv_of("Name", ""))
    words = text_of(admin.post("/club/lists/people", {"file": file}, follow=True))
    assert "Nothing in this list is new and right" in words
    draft = ListDraft.objects.get()
    assert "people.csv" in text_of(admin.get("/club/lists/people"))
    drop = reverse("inspection:drop_list", args=[draft.pk])
    assert admin.post(drop).url == "/club/lists/people"  # type: ignore[attr-defined]
    assert not ListDraft.objects.exists()


def test_workbook_is_read_too(admin: Client) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append(["Name", "Roles"])
    book.worksheets[0].append(["Bo Lark", "member"])
    content = io.BytesIO()
    book.save(content)
    file = SimpleUploadedFile("people.xlsx", content.getvalue())
    words = text_of(admin.post("/club/lists/people", {"file": file}, follow=True))
    assert "Take 1 row" in words


def test_file_that_is_no_list_is_refused(
    admin: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = SimpleUploadedFile("people.xlsx", b"PK\x03\x04 nothing")
    answer = admin.post("/club/lists/people", {"file": file})
    assert answer.status_code == 422
    monkeypatch.setattr("inspection.actions.moving.lists.MOST_ROWS", 2)
    file = SimpleUploadedFile("people.csv", csv_of("Name", "A", "B", "C"))
    answer = admin.post("/club/lists/people", {"file": file})
    assert "at most 2 come in at once: split it" in text_of(answer)


def test_pages_of_lists_that_there_are_not(admin: Client) -> None:
    assert admin.get("/club/lists/teapots").status_code == 404
    assert admin.get("/club/lists/people/template/pdf").status_code == 404
    for form in ("csv", "xlsx"):
        answer = admin.get(f"/club/lists/cars/template/{form}")
        assert answer["Content-Disposition"].endswith(f'cars-template.{form}"')
