"""The pages and the commands by which a club is taken out and brought in."""

import io
import re
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from inspection.loaders.rulebooks.editions import forget_editions
from inspection.models import SealCheck
from inventory.actions.audit import record_outside_event
from inventory.actions.people.beginning import make_beginning
from inventory.compute.roles import Role
from inventory.models import AuditRow, Beginning, Club, Person
from tests import builders
from tests.conftest import PASSWORD
from tests.inspection.moving.packed import (
    ADMIN,
    descriptor,
    meddled,
    members,
    packed_club,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def club(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> bytes:
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


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def test_admin_takes_the_club_out(client_of: Callable[[Person], Client]) -> None:
    client = client_of(builders.make_person(Role.ADMIN))
    assert reverse("inspection:moving") in text_of(client.get("/club"))
    assert "Not taken out yet." in text_of(client.get("/club/moving"))
    answer = client.post("/club/take-out")
    content = b"".join(answer)
    assert answer["Content-Type"] == "application/zip"
    assert answer["Content-Disposition"].endswith('.zip"')
    names = {one["name"] for one in descriptor(content)["resources"]}
    assert "inventory_person" in names
    assert "Last taken out" in text_of(client.get("/club/moving"))


def bring(code: str, content: bytes, **said: str) -> Any:
    file = SimpleUploadedFile("club.zip", content)
    typed = {"sign_in_name": ADMIN.sign_in_name, "password": PASSWORD, **said}
    return Client().post(f"/begin/{code}/archive", {"file": file, **typed})


def test_club_is_brought_in_where_one_begins(club: bytes) -> None:
    code = make_beginning(at=builders.now())
    assert f"/begin/{code}/archive" in text_of(Client().get(f"/begin/{code}"))
    assert Client().get(f"/begin/{code}/archive").status_code == 200
    # Its tables were made, and somebody tried to sign in: neither is in the way.
    record_outside_event("database.upgraded", subject="Feelerbook", at=builders.now())
    Client().post("/sign-in", {"username": "ada", "password": "swordfish"})
    refused = bring(code, b"no archive")
    assert refused.status_code == 422
    assert "a ZIP was expected" in text_of(refused)
    weak = bring(code, club, password="short")
    assert weak.status_code == 422
    assert not Person.objects.exists()
    client = Client()
    file = SimpleUploadedFile("club.zip", club)
    typed = {"file": file, "sign_in_name": "BOSS", "password": PASSWORD}
    answer = client.post(f"/begin/{code}/archive", typed, follow=True)
    assert answer.status_code == 200
    assert re.search(r"The club is in\. \d+ seals? holds?\.", text_of(answer))
    assert Club.objects.get().name == "Slot & Rail"
    assert not Beginning.objects.exists()
    # The address works once, and whoever is in is led to the desk.
    assert bring(code, club).status_code == 404
    assert client.get(f"/begin/{code}/archive").url == "/"  # type: ignore[attr-defined]


def test_seals_that_did_not_hold_are_told_of(club: bytes) -> None:
    name = next(name for name in members(club) if name.startswith("sheets/"))
    text = members(club)[name].replace(b'"stage":"before"', b'"stage":"after"')
    code = make_beginning(at=builders.now())
    client = Client()
    file = SimpleUploadedFile("club.zip", meddled(club, {name: text}))
    typed = {"file": file, "sign_in_name": "boss", "password": PASSWORD}
    answer = client.post(f"/begin/{code}/archive", typed, follow=True)
    assert re.search(r"\d+ differences? stands? against its seals", text_of(answer))


def say(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{one}\n" for one in lines)))


def test_commands_take_out_and_bring_in(
    club: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, again = tmp_path / "kept.zip", tmp_path / "again.zip"
    kept.write_bytes(club)
    said = io.StringIO()
    say(monkeypatch, PASSWORD)
    call_command("bring_in_archive", kept, "--admin", "boss", stdout=said)
    assert "Slot & Rail is in: " in said.getvalue()
    assert "seals hold. Sign in as boss." in said.getvalue()
    assert SealCheck.objects.get().occasion == "after a restore"
    call_command("take_out_club", again, stdout=said)
    assert again.stat().st_mode & 0o777 == 0o600
    assert f"The club is in {again}" in said.getvalue()
    assert AuditRow.objects.filter(event="data.exported", actor=None).exists()
    assert descriptor(again.read_bytes())["title"] == "Slot & Rail"
    with pytest.raises(CommandError, match="has begun already"):
        call_command("bring_in_archive", kept, "--admin", "boss")
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("take_out_club", tmp_path / "nowhere" / "x.zip")


def test_commands_refuse_in_a_sentence(
    club: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "kept.zip"
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("bring_in_archive", kept, "--admin", "boss")
    kept.write_bytes(b"no archive")
    with pytest.raises(CommandError, match="a ZIP was expected"):
        call_command("bring_in_archive", kept, "--admin", "boss")
    kept.write_bytes(club)
    say(monkeypatch, "short")
    with pytest.raises(CommandError, match="too short"):
        call_command("bring_in_archive", kept, "--admin", "boss")
    name = next(name for name in members(club) if name.startswith("sheets/"))
    text = members(club)[name].replace(b'"stage":"before"', b'"stage":"after"')
    kept.write_bytes(meddled(club, {name: text}))
    say(monkeypatch, PASSWORD)
    said = io.StringIO()
    with pytest.raises(CommandError, match="differences; "):
        call_command("bring_in_archive", kept, "--admin", "boss", stdout=said)
    assert said.getvalue().count("\n") > 1
