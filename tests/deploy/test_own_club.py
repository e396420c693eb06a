"""Leaving the demo for a club of one's own, on a running server, and coming back."""

import hashlib
import re
import sqlite3
import sys
import urllib.parse
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from deploy import serve
from deploy.starting import data_folder, own_club
from deploy.starting.data_folder import DatabaseInUse, KeptClub
from deploy.starting.refusals import NoDemoClubError
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow, Person
from tests import builders
from tests.deploy.servers import SERVE, running

PASSWORD = "four quiet wheels turn"


class Browser:
    """A browser without scripts: cookies, and forms with their token."""

    def __init__(self) -> None:
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        self.url = self.page = ""

    def get(self, address: str) -> str:
        with self.opener.open(address, timeout=60) as answer:
            self.url, self.page = answer.url, answer.read().decode()
        return self.page

    def send(self, address: str, **typed: str) -> str:
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.page)
        assert token is not None
        form = urllib.parse.urlencode({"csrfmiddlewaretoken": token[1], **typed})
        with self.opener.open(address, form.encode(), timeout=120) as answer:
            self.url, self.page = answer.url, answer.read().decode()
        return self.page

    def begin(self, address: str, name: str) -> str:
        self.get(address)
        said = {"sign_in_name": name, "name": f"{name.title()} Wren"}
        return self.send(address, **said, password=PASSWORD)

    def sign_in(self, address: str, name: str) -> str:
        self.get(f"{address}sign-in")
        said = {"username": name, "password": PASSWORD, "next": "/"}
        return self.send(f"{address}sign-in", **said)


def beginning(lines: list[str]) -> str:
    (line,) = [line for line in lines if line.startswith("Begin your club: ")]
    return line.split()[3]


def sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def people_in(path: Path) -> list[str]:
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as database:
        rows = database.execute("SELECT sign_in_name FROM inventory_person")
        return [name for (name,) in rows]


def test_admin_leaves_the_demo_and_a_command_goes_back(tmp_path: Path) -> None:
    data = tmp_path / "club"
    words = [*SERVE, "--port=0", f"--data={data}", "--no-demo"]
    demo, own = data / data_folder.DATABASE, data / data_folder.OWN_DATABASE
    with running(*words) as (_, address, lines):
        browser = Browser()
        browser.begin(beginning(lines), "ada")
        # A folder with such a file holds a demo; loading the whole one takes long.
        (data / data_folder.DEMO_ACCOUNTS).write_text("Demo club: ada, PASSWORD\n")
        assert "A club of our own" in browser.get(f"{address}club")
        page = browser.get(f"{address}club/own")
        assert "kept as it is now" in page
        browser.send(f"{address}club/own", is_read="on")
        assert "/begin/" in browser.url
        kept = sha256(demo)
        browser.begin(browser.url, "bea")
        assert "Before the first night" in browser.page
        # One's own club is no demo: nothing offers to leave it.
        assert "A club of our own" not in browser.get(f"{address}club")
        assert "no demo club" in browser.get(f"{address}club/own")
        assert people_in(own) == ["bea"]
        assert (people_in(demo), sha256(demo)) == (["ada"], kept)
        assert own.stat().st_mode & 0o077 == 0
    with running(*words) as (_, address, _lines):
        assert "Before the first" in Browser().sign_in(address, "bea")
    with running(*words, "--club=demo") as (_, address, _lines):
        browser = Browser()
        assert "Before the first" in browser.sign_in(address, "ada")
        # Left once more: the own club has people, who sign in.
        browser.get(f"{address}club/own")
        browser.send(f"{address}club/own", is_read="on")
        assert browser.url == f"{address}sign-in"
        assert "Before the first" in browser.sign_in(address, "bea")


def test_each_connection_opens_the_file_in_use(tmp_path: Path) -> None:
    path = DatabaseInUse(tmp_path / data_folder.DATABASE)
    for club, name in data_folder.DATABASE_OF.items():
        data_folder.use_club(tmp_path, club)
        with sqlite3.connect(path) as database:
            ((_, _, opened),) = database.execute("PRAGMA database_list").fetchall()
        assert Path(opened).name == name
    (tmp_path / data_folder.IN_USE).write_text("neither")
    assert data_folder.club_in_use(tmp_path) is KeptClub.FIRST


def test_a_folder_without_a_demo_has_one_club(tmp_path: Path) -> None:
    with pytest.raises(NoDemoClubError, match="holds no demo club"):
        serve.choose_club(tmp_path, KeptClub.OWN)
    assert not (tmp_path / data_folder.IN_USE).exists()


@pytest.fixture
def demo_folder(tmp_path: Path, settings: Any) -> Path:
    settings.INSTALLATION = "local"
    settings.DATA_DIR = tmp_path
    settings.DEMO_FILE = tmp_path / data_folder.DEMO_ACCOUNTS
    settings.DEMO_FILE.write_text("Demo club: PASSWORD")
    return tmp_path


def test_a_start_tells_the_way_back_to_the_demo(
    demo_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    serve.say_of_demo()
    assert "PASSWORD" in capsys.readouterr().out
    data_folder.use_club(demo_folder, KeptClub.OWN)
    serve.say_of_demo()
    said = capsys.readouterr().out
    assert "--club demo" in said
    assert "PASSWORD" not in said


@pytest.mark.django_db
def test_where_the_file_cannot_be_made_the_demo_goes_on(
    demo_folder: Path,
    client_of: Callable[[Person], Client],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    admin = client_of(builders.make_person(Role.ADMIN))
    unticked = admin.post("/club/own", {"is_read": ""})
    assert unticked.status_code == 422
    assert "Tick this if the demo is to be left." in unticked.content.decode()
    # A folder stands where the file should be.
    (demo_folder / data_folder.OWN_DATABASE).mkdir()
    answer = admin.post("/club/own", {"is_read": "on"})
    assert answer.status_code == 422
    assert "Nothing has changed; the demo club goes on." in answer.content.decode()
    assert data_folder.club_in_use(demo_folder) is KeptClub.FIRST
    assert not AuditRow.objects.filter(event="club.left").exists()
    monkeypatch.setattr(sys, "executable", str(demo_folder / "none"))
    with pytest.raises(RefusedError, match="could not be made"):
        own_club.ready_own_club()
