"""What the club goes by: its name on sheets, its address in codes, its clock."""

import datetime as dt
import time
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from deploy.middleware import ClubZone
from inventory.actions.club import ClubSettings, name_club, settle_club
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.loaders.clocks import KEPT_S, club_zone
from inventory.models import Club
from tests import builders

pytestmark = pytest.mark.django_db

TYPED: dict[str, Any] = {
    "name": "Nether Wallop Racers",
    "place": "The old dairy",
    "address": "http://localhost:8000",
    "time_zone": "America/St_Johns",
}


def client_of(role: Role) -> Client:
    client = Client()
    client.force_login(builders.make_person(role))
    return client


def test_club_is_settled_on_its_page() -> None:
    chief = client_of(Role.CHIEF_SCRUTINEER)
    assert chief.post("/club", TYPED)["Location"] == "/club"
    club = Club.objects.get()
    assert (club.name, club.place) == (TYPED["name"], TYPED["place"])
    assert club.address == "http://localhost:8000/"
    words = chief.get("/club").content.decode()
    assert '<option value="America/St_Johns" selected>' in words
    assert "Nether Wallop Racers" in words.partition("title-block")[2]


@pytest.mark.parametrize(
    "address",
    [
        "localhost:8000",
        "ftp://localhost/",
        "http://localhost/desk",
        "http://localhost:no/",
        "http://elsewhere.example/",
        "http://me@localhost/",
        "http://[::1",
    ],
)
def test_address_that_leads_elsewhere_is_refused_and_kept_as_typed(
    address: str,
) -> None:
    page = client_of(Role.ADMIN).post("/club", TYPED | {"address": address})
    assert page.status_code == 422
    words = page.content.decode()
    assert "an address was expected such as" in words
    assert f'value="{address}"' in words
    assert not Club.objects.exists()


def test_zone_that_there_is_not_is_refused() -> None:
    page = client_of(Role.ADMIN).post("/club", TYPED | {"time_zone": "Mars/Olympus"})
    assert page.status_code == 422
    with pytest.raises(RefusedError) as refusal:
        settle_club(ClubSettings(name="N", time_zone="Mars/Base"), act=builders.act())
    assert refusal.value.field == "time_zone"


def test_naming_leaves_the_rest_alone() -> None:
    settle_club(
        ClubSettings(**TYPED, lets_own_cars_be_measured=True), act=builders.act()
    )
    name_club(name="New name", place="", act=builders.act())
    club = Club.objects.get()
    assert (club.name, club.time_zone) == ("New name", TYPED["time_zone"])


def test_code_on_a_label_leads_to_the_clubs_address() -> None:
    part = builders.make_part()
    client = client_of(Role.PARTS_KEEPER)
    asked = f"/parts/labels?tag={part.tag}"
    seen = client.get(asked).context["labels"]
    assert "from itself alone" not in client.get(asked).content.decode()
    settle_club(
        ClubSettings(name="N", address="http://localhost:8000/"), act=builders.act()
    )
    later = client.get(asked).context["labels"]
    assert seen != later
    # No phone gets there: said before a drawer full of them is printed.
    for page in (asked, asked.replace("/parts/", "/pairs/")):
        assert client.get(page).context["is_only_here"]
    assert "from itself alone" in client.get(asked).content.decode()


def test_times_are_the_clubs_wherever_the_server_stands() -> None:
    """St John's: half an hour off the full hours, 3 h 30 min behind in winter."""
    settle_club(
        ClubSettings(**TYPED, lets_own_cars_be_measured=True), act=builders.act()
    )
    noon = dt.datetime(2026, 1, 15, 12, 0, tzinfo=dt.UTC)
    sheet = builders.make_sheet()
    shown = timezone.localtime(sheet.started_at, ZoneInfo("America/St_Johns"))
    words = client_of(Role.SCRUTINEER).get("/").content.decode()
    assert f"{shown:%H:%M}" in words
    with timezone.override(ClubZone()):
        assert timezone.localtime(noon).strftime("%H:%M") == "08:30"
        assert timezone.get_current_timezone_name() == "America/St_Johns"


def test_zone_says_what_the_database_of_zones_says() -> None:
    """The hours of a change of the clock, beside the standard library's zone."""
    settle_club(ClubSettings(name="N", time_zone="Europe/Berlin"), act=builders.act())
    zone, expected = ClubZone(), ZoneInfo("Europe/Berlin")
    start = dt.datetime(2026, 10, 25, 0, 0, tzinfo=dt.UTC)
    for minutes in range(0, 240, 15):
        at = start + dt.timedelta(minutes=minutes)
        here, there = at.astimezone(zone), at.astimezone(expected)
        assert here.isoformat() == there.isoformat()
        assert here.fold == there.fold
        assert (here.dst(), here.tzname()) == (there.dst(), there.tzname())
        assert here.astimezone(dt.UTC) == at


def test_zone_is_read_once_in_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    settle_club(ClubSettings(name="N", time_zone="Asia/Tokyo"), act=builders.act())
    with CaptureQueriesContext(connection) as queries:
        assert {str(club_zone()) for _ in range(5)} == {"Asia/Tokyo"}
    assert len(queries) == 1
    # As another process does that did not hear of the change.
    Club.objects.update(time_zone="Asia/Kabul")
    assert str(club_zone()) == "Asia/Tokyo"
    later = time.monotonic() + KEPT_S + 1
    monkeypatch.setattr("inventory.loaders.clocks.time.monotonic", lambda: later)
    assert str(club_zone()) == "Asia/Kabul"
