"""A club as one archive: whole, the same again, and refused where it is not."""

import base64
import csv
import hashlib
import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.hashers import is_password_usable
from django.db import models, transaction
from pytest_django.plugin import DjangoDbBlocker

from inspection.actions.moving.bringing_in import FirstIn, bring_in_club
from inspection.actions.moving.taking_out import club_archive
from inspection.actions.seal_checks import check_seals
from inspection.compute.night import Occasion
from inspection.files.archive import packing, unpacking
from inspection.files.archive.columns import column_of
from inspection.files.archive.tables import HIDDEN, LEFT_OUT, tables
from inspection.loaders.rulebooks.editions import forget_editions
from inspection.models import NightSums, Seal
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow, Club, Part, Person
from tests import builders
from tests.conftest import PASSWORD
from tests.inspection.moving.packed import (
    ADMIN,
    descriptor,
    meddled,
    members,
    opened,
    packed_club,
)

pytestmark = pytest.mark.django_db
PEOPLE = "data/inventory_person.csv"


@pytest.fixture(scope="module")
def club(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> bytes:
    """Take a club out; the database is empty again."""
    # Of an edition of like number and text that another test's club had.
    forget_editions()
    with django_db_blocker.unblock(), transaction.atomic():
        content = packed_club()
        transaction.set_rollback(True)
    forget_editions()
    return content


@pytest.fixture(autouse=True)
def editions_of_this_database() -> Iterator[None]:
    """Let nothing that comes after take this club's editions for its own."""
    yield
    forget_editions()


def bring(content: bytes, first: FirstIn = ADMIN) -> Any:
    return bring_in_club(opened(content), first, at=builders.now())


def hashes(content: bytes) -> dict[str, str]:
    return {one["name"]: one["hash"] for one in descriptor(content)["resources"]}


def test_club_brought_in_is_the_same_and_every_seal_holds(club: bytes) -> None:
    brought = bring(club)
    again = b"".join(club_archive(at=builders.now()))
    # Bringing it in is itself something that was done.
    before, after = hashes(club), hashes(again)
    assert {name for name in before if before[name] != after[name]} == {
        "inventory_auditrow"
    }
    sheets = {name for name in members(club) if name.startswith("sheets/")}
    assert len(sheets) == brought.seal_count == Seal.objects.count() > 5
    assert {name: members(again)[name] for name in sheets} == {
        name: members(club)[name] for name in sheets
    }
    checked = check_seals(Occasion.RESTORED, at=builders.now())
    assert checked.holds, checked.differences
    assert brought.club == "Slot & Rail"
    row = AuditRow.objects.get(event="club.brought_in")
    assert row.detail == {"rows": brought.row_count}


def test_one_admin_comes_in_and_the_others_have_no_password(club: bytes) -> None:
    admin = bring(club).admin
    assert admin.check_password(PASSWORD)
    assert admin.name == "The “boss”,\nwith a comma"
    others = Person.objects.exclude(pk=admin.pk)
    assert others.exists()
    assert not any(is_password_usable(one.password) for one in others)


def test_new_rows_follow_those_brought_in(club: bytes) -> None:
    bring(club)
    last = Part.objects.order_by("pk").last()
    assert last is not None
    assert builders.make_part().pk == last.pk + 1
    assert not NightSums.objects.filter(night__closed_at=None).exists()


def test_every_table_is_in_it_or_left_out_for_a_reason(club: bytes) -> None:
    names = [
        model._meta.db_table
        for app in ("inventory", "inspection")
        for model in apps.get_app_config(app).get_models(include_auto_created=True)
    ]
    assert set(hashes(club)) == set(names) - set(LEFT_OUT)
    assert set(LEFT_OUT) <= set(names)
    assert all(LEFT_OUT.values())
    for name, columns in HIDDEN.items():
        said = {column.name for table in tables() for column in table.columns
                if table.name == name}  # fmt: skip
        assert said
        assert said.isdisjoint(columns)


def test_each_table_and_column_is_described(club: bytes) -> None:
    """The Data Package and Table Schema specifications of Frictionless Data, v1."""
    said = descriptor(club)
    assert said["profile"] == "data-package"
    names = {resource["name"] for resource in said["resources"]}
    for resource in said["resources"]:
        assert resource["profile"] == "tabular-data-resource"
        assert resource["path"] == f"data/{resource['name']}.csv"
        schema = resource["schema"]
        assert schema["missingValues"] == [""]
        fields = {one["name"] for one in schema["fields"]}
        assert schema["primaryKey"] in fields
        for key in schema["foreignKeys"]:
            assert key["fields"] in fields
            assert key["reference"]["resource"] in names
        for one in schema["fields"]:
            assert one["description"].endswith("."), (resource["name"], one)
            assert one["type"] in TYPES, one


TYPES: dict[str, Callable[[str], Any]] = {
    "integer": int,
    "number": float,
    "boolean": {"true": True, "false": False}.__getitem__,
    "string": str,
    "date": str,
    "datetime": str,
    "any": json.loads,
}


def test_tables_say_what_the_descriptor_says_of_them(club: bytes) -> None:
    """Read again by nothing but the standard library."""
    held = members(club)
    for resource in descriptor(club)["resources"]:
        content = held[resource["path"]]
        assert hashlib.sha256(content).hexdigest() == resource["hash"][7:]
        assert len(content) == resource["bytes"]
        text = io.StringIO(content.decode(), newline="")
        fields = resource["schema"]["fields"]
        rows = list(csv.DictReader(text, strict=True))
        assert len(rows) == resource["rows"]
        for row in rows:
            assert list(row) == [one["name"] for one in fields]
            for one in fields:
                if row[one["name"]]:
                    TYPES[one["type"]](row[one["name"]])
    # RFC 4180 ends each line by CR and LF, and quotes what holds a comma.
    assert '"The “boss”,\nwith a comma"'.encode() in held[PEOPLE]
    assert b"\r\n" in held[PEOPLE]
    assert b"argon2" not in b"".join(held.values())


def test_seals_can_be_followed_in_the_archive_alone(club: bytes) -> None:
    held = members(club)
    seals = csv.DictReader(io.StringIO(held["data/inspection_seal.csv"].decode()))
    sheets = csv.DictReader(io.StringIO(held["data/inspection_sheet.csv"].decode()))
    numbers = {row["id"]: row["number"] for row in sheets}
    count = 0
    for seal in seals:
        content = held[f"sheets/{numbers[seal['sheet_id']]}.json"]
        inner = hashlib.sha256(content).hexdigest()
        link = f"{seal['previous_sha256']}\n{inner}"
        assert hashlib.sha256(link.encode()).hexdigest() == seal["sha256"]
        count += 1
    assert count > 5


def test_archive_is_given_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packing, "_SEND_AT", 1000)
    builders.make_part()
    pieces = list(club_archive(at=builders.now()))
    assert len(pieces) > 1
    assert max(map(len, pieces[:-1])) < 64 * 1024


def test_archive_that_is_given_up_half_way_is_no_trouble() -> None:
    given = club_archive(at=builders.now())
    next(given)
    given.close()  # type: ignore[attr-defined]
    assert opened(b"".join(club_archive(at=builders.now()))).table_names()


def refused(content: bytes, first: FirstIn = ADMIN) -> RefusedError:
    """Give the refusal; nothing of the club may be there."""
    with pytest.raises(RefusedError) as caught, transaction.atomic():
        bring(content, first)
    assert not Person.objects.exists()
    assert not Club.objects.exists()
    assert caught.value.sentence.endswith(".")
    return caught.value


def zipped(*names: str, text: bytes = b"x") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in names:
            archive.writestr(name, text)
    return out.getvalue()


@pytest.mark.parametrize("content", [b"", b"no ZIP at all", zipped("README.txt")])
def test_what_is_no_archive_is_refused(content: bytes) -> None:
    assert refused(content).code == "not_an_archive"


@pytest.mark.parametrize(
    "name",
    [
        "../evil.csv",
        "/etc/passwd",
        "data/../../evil.csv",
        "data\\evil.csv",
        "sheets/a/b.json",
        "data/evil.csv\0.csv",
        "other.txt",
    ],
)
def test_names_that_lead_elsewhere_are_refused(club: bytes, name: str) -> None:
    out = io.BytesIO(club)
    with zipfile.ZipFile(out, "a") as archive:
        info = zipfile.ZipInfo("x")
        info.filename = info.orig_filename = name
        archive.writestr(info, b"evil")
    assert refused(out.getvalue()).code == "hostile_archive"


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_member_twice_is_refused(club: bytes) -> None:
    out = io.BytesIO(club)
    with zipfile.ZipFile(out, "a") as archive:
        archive.writestr(PEOPLE, b"evil")
    assert refused(out.getvalue()).code == "hostile_archive"


def test_bomb_is_refused_before_it_is_unpacked(club: bytes) -> None:
    bomb = meddled(club, {PEOPLE: bytes(400 * 1024 * 1024)})
    assert len(bomb) < 2 * 1024 * 1024
    refusal = refused(bomb)
    assert refusal.code == "hostile_archive"
    assert "unpacks to 400 MB" in refusal.sentence


def test_locked_member_is_refused(club: bytes) -> None:
    """The lowest bit of a member's flags says that it is encrypted (APPNOTE 4.4.4)."""
    at = club.index(b"PK\x01\x02")
    locked = club[: at + 8] + bytes([club[at + 8] | 1]) + club[at + 9 :]
    assert refused(locked).code == "hostile_archive"


def test_too_many_members_are_refused(
    club: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unpacking, "MOST_MEMBERS", 3)
    assert refused(club).code == "hostile_archive"


def test_archive_of_another_version_says_what_to_do(club: bytes) -> None:
    for change in (
        {"format": 2},
        {"version": "9.9", "migrations": {"inventory": "0099"}},
    ):
        said = descriptor(club)
        said["feelerbook"] |= change
        text = json.dumps(said).encode()
        refusal = refused(meddled(club, {"datapackage.json": text}))
        assert refusal.code == "other_version"
        assert "let the newer of the two upgrade it" in refusal.sentence
    said = descriptor(club)
    said["feelerbook"] = "?"
    text = json.dumps(said).encode()
    assert refused(meddled(club, {"datapackage.json": text})).code == "other_version"


def described(club: bytes, change: Callable[[dict[str, Any]], object]) -> bytes:
    said = descriptor(club)
    change(said)
    return meddled(club, {"datapackage.json": json.dumps(said).encode()})


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda said: said["resources"].pop(), "other_version"),
        (lambda said: said["resources"][0]["schema"]["fields"].pop(), "other_version"),
        (lambda said: said["resources"][0].pop("schema"), "damaged_archive"),
        (lambda said: said.update(resources=[1]), "damaged_archive"),
        (lambda said: said.pop("resources"), "damaged_archive"),
        (lambda said: said["resources"][0].update(hash="sha256:0"), "damaged_archive"),
        (lambda said: said.pop("feelerbook"), "not_an_archive"),
    ],
)
def test_descriptor_that_was_meddled_with_is_refused(
    club: bytes, change: Callable[[dict[str, Any]], object], code: str
) -> None:
    assert refused(described(club, change)).code == code


@pytest.mark.parametrize(
    "changes",
    [
        {"datapackage.json": b"{"},
        {"datapackage.json": b"[" * 100_000},
        {PEOPLE: None},
        {PEOPLE: b""},
        {PEOPLE: b"id,name\r\n"},
        {PEOPLE: b"\xff\xfe"},
        {"sheets": None},
    ],
)
def test_damaged_archive_is_refused(
    club: bytes, changes: dict[str, bytes | None]
) -> None:
    if "sheets" in changes:
        name = next(name for name in members(club) if name.startswith("sheets/"))
        changes = {name: changes["sheets"]}
    assert refused(meddled(club, changes)).code == "damaged_archive"


def with_row(club: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Change a table, and note its new hash as somebody would who meddles with it."""
    content = change(members(club)[f"data/{name}.csv"])
    said = descriptor(club)
    for one in said["resources"]:
        if one["name"] == name:
            one["hash"] = f"sha256:{hashlib.sha256(content).hexdigest()}"
    text = json.dumps(said).encode()
    return meddled(club, {f"data/{name}.csv": content, "datapackage.json": text})


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda text: text.replace(b",true,", b",yes,", 1), "damaged_archive"),
        (lambda text: text + b"1,2\r\n", "damaged_archive"),
        (lambda text: text + b'"' + b"x" * 100, "damaged_archive"),
        (lambda text: re.sub(rb"\r\n\d+,", b"\r\n,", text, count=1), "damaged_archive"),
        # The first row again: the key is there already.
        (lambda text: text + text.split(b"\r\n")[1] + b"\r\n", "rows_refused"),
    ],
)
def test_rows_that_are_none_are_refused(
    club: bytes, change: Callable[[bytes], bytes], code: str
) -> None:
    name = "inventory_rolegrant" if code == "rows_refused" else "inventory_person"
    content = with_row(club, name, change)
    assert content != club
    refusal = refused(content)
    assert refusal.code == code


def test_row_of_something_that_is_not_there_is_refused(club: bytes) -> None:
    content = with_row(
        club, "inventory_person", lambda text: text.split(b"\r\n")[0] + b"\r\n"
    )
    assert refused(content).code == "rows_refused"


def test_line_without_an_end_is_not_read_on(
    club: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unpacking, "MOST_LINE", 200)
    long = with_row(club, "inventory_person", lambda text: text + b"x" * 300)
    assert "longer than any row" in refused(long).sentence


def test_sheet_that_is_none_is_refused(
    club: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = next(name for name in members(club) if name.startswith("sheets/"))
    assert "UTF-8" in refused(meddled(club, {name: b"\xff"})).sentence
    monkeypatch.setattr(unpacking, "MOST_SHEET", 100)
    assert "longer than any sheet" in refused(club).sentence


def test_flipped_byte_is_found(club: bytes) -> None:
    """The CRC-32 of a member, or the packing itself, no longer fits."""
    with zipfile.ZipFile(io.BytesIO(club)) as archive:
        info = archive.getinfo(PEOPLE)
    # Behind the member's header and its name is what it was packed to.
    middle = info.header_offset + 30 + len(PEOPLE) + info.compress_size // 2
    flipped = club[:middle] + bytes([club[middle] ^ 0x20]) + club[middle + 1 :]
    assert refused(flipped).code == "damaged_archive"


def test_one_who_is_no_admin_does_not_come_in(club: bytes) -> None:
    refusal = refused(club, FirstIn(sign_in_name="nobody", password=PASSWORD))
    assert (refusal.code, refusal.field) == ("no_admin", "sign_in_name")


def test_club_that_has_begun_takes_no_archive(club: bytes) -> None:
    person = builders.make_person()
    with pytest.raises(RefusedError) as caught, transaction.atomic():
        bring(club)
    assert caught.value.code == "not_empty"
    assert "a data folder of its own" in caught.value.sentence
    assert Person.objects.filter(pk=person.pk).exists()


def test_tampered_sheet_comes_in_and_is_told_of(club: bytes) -> None:
    """What did not hold before the move does not hold after it, and is not hidden."""
    name = next(name for name in members(club) if name.startswith("sheets/"))
    text = members(club)[name].replace(b'"stage":"before"', b'"stage":"after"')
    bring(meddled(club, {name: text}))
    assert not check_seals(Occasion.RESTORED, at=builders.now()).holds


def test_each_sort_of_value_is_the_same_again() -> None:
    by_name = {
        f"{table.name}.{column.name}": column
        for table in tables()
        for column in table.columns
    }
    detail = by_name["inventory_auditrow.detail"]
    # PostgreSQL writes a number of this size without its exponent.
    assert detail.write({"b": [1e16, 0.5], "a": "é"}) == (
        '{"a":"é","b":[10000000000000000,0.5]}'
    )
    raw = by_name["inventory_auditrow.sha256"]
    assert raw.write(memoryview(b"\x00\xff")) == base64.b64encode(b"\x00\xff").decode()
    assert raw.read("AP8=") == b"\x00\xff"
    assert raw.read("") is None
    with pytest.raises(ValueError, match="missing"):
        by_name["inventory_person.joined_at"].read("")


def test_sort_that_no_archive_can_hold_is_told_of() -> None:
    field = models.DurationField()
    field.set_attributes_from_name("took")
    with pytest.raises(NotImplementedError, match="DurationField"):
        column_of(field)
