"""Pages over the seals: what is signed comes from the content, and says if it holds."""

import re
from collections.abc import Callable
from typing import Any

import pytest
import zxingcpp
from django.db import connection
from django.test import Client

from inspection.actions.race_nights import close_night
from inspection.actions.seal_checks import check_seals, settle_night
from inspection.compute.night import Occasion
from inspection.loaders.seals.heads import head_of_audit, head_of_night
from inspection.models import AuditLink, RaceNight, Seal, SealCheck, SealContent
from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders
from tests.inspection.seals_night import make_sealed_night
from tests.inventory.drawing.test_drawing_labels import painted
from tests.lifted import guards_lifted

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Any], Client]


@pytest.fixture
def chief() -> Person:
    return builders.make_person(Role.CHIEF_SCRUTINEER, Role.ADMIN, name="Chief Ame")


@pytest.fixture
def night() -> RaceNight:
    return make_sealed_night(builders.make_scrutineer())


def text_of(client: Client, address: str) -> str:
    page = client.get(address)
    assert page.status_code == 200
    return page.content.decode()


def by_force(sql: str, *values: Any) -> None:
    with guards_lifted(Seal, SealContent), connection.cursor() as cursor:
        cursor.execute(sql, values)


def test_sheet_shows_decision_signer_and_time_from_its_content(
    night: RaceNight, chief: Person, client_of: ClientOf
) -> None:
    seal = Seal.objects.get(sequence=3)
    by_force(
        "UPDATE inspection_seal SET decision = 'sent back', sealed_by_id = %s, "
        "sealed_at = '2026-05-08 12:34:56+00:00' WHERE id = %s",
        *(chief.pk, seal.pk),
    )
    page = text_of(client_of(chief), f"/sheet/{seal.sheet.number}")
    assert "Passed. The car as presented" in page
    assert f"Sealed by {seal.sealed_by}" in page
    assert "8 May 2026 12:34:56" not in page
    assert "This seal does not hold." in page
    assert "decision is “passed” in the seal, “sent back” in the tables" in page


def test_sheet_that_holds_says_nothing_of_it(
    night: RaceNight, chief: Person, client_of: ClientOf
) -> None:
    number = Seal.objects.get(sequence=1).sheet.number
    page = text_of(client_of(chief), f"/sheet/{number}")
    assert "does not hold" not in page
    assert "The seals have not been checked yet." in page
    check_seals(Occasion.START, at=builders.NOW)
    assert "all 3 hold." in text_of(client_of(chief), f"/sheet/{number}")


@pytest.mark.parametrize("packed", [b"x", SealContent(packed=b"").packed])
def test_sheet_whose_content_cannot_be_read_says_so(
    night: RaceNight, chief: Person, client_of: ClientOf, packed: bytes
) -> None:
    seal = Seal.objects.get(sequence=1)
    by_force(
        "UPDATE inspection_sealcontent SET packed = %s WHERE seal_id = %s",
        *(packed, seal.pk),
    )
    page = text_of(client_of(chief), f"/sheet/{seal.sheet.number}")
    assert "This seal does not hold." in page
    assert "cannot be read any more" in page
    assert "Passed" not in page


def test_closing_leads_to_the_list_with_the_head_as_a_code(
    night: RaceNight, chief: Person, client_of: ClientOf
) -> None:
    client = client_of(chief)
    answer = client.post(f"/night/{night.pk}/close")
    assert answer.headers["Location"] == f"/night/{night.pk}/list"
    page = text_of(client, f"/night/{night.pk}/list")
    head, audit = head_of_night(night), head_of_audit()
    assert head is not None
    assert audit is not None
    assert f"check_seals --head {head.sha256} 3" in page
    assert audit.sha256 in page
    assert "at closing: all 3 hold." in page
    code_drawn = r'class="code".*?viewBox="0 0 (\d+) .*? d="(M\d+ \d+h\d+v1[^"]*)"'
    drawn = re.search(code_drawn, page)
    assert drawn is not None
    (code,) = zxingcpp.read_barcodes(painted(drawn[2], int(drawn[1])))
    assert code.text == f"FEELERBOOK {head.sha256.upper()} 3"


def test_list_of_an_open_night_says_that_its_head_changes(
    night: RaceNight, chief: Person, client_of: ClientOf
) -> None:
    page = text_of(client_of(chief), f"/night/{night.pk}/list")
    assert "the head changes with each seal" in page
    numbers = Seal.objects.values_list("sheet__number", flat=True)
    assert all(f"/sheet/{number}" in page for number in numbers)
    member = text_of(client_of(builders.make_person()), f"/night/{night.pk}/list")
    assert "/sheet/" not in member


def test_list_of_a_night_without_seals_says_so(
    chief: Person, client_of: ClientOf
) -> None:
    empty = builders.make_night()
    page = text_of(client_of(chief), f"/night/{empty.pk}/list")
    assert "Nothing has been sealed on this night." in page
    assert "No car is entered." in page


def test_list_asks_no_more_for_more_cars(
    chief: Person, client_of: ClientOf, same_queries: Any
) -> None:
    night, client = builders.make_night(), client_of(chief)

    def enter(count: int) -> None:
        for _ in range(count):
            builders.make_entry(night=night)

    same_queries(lambda: client.get(f"/night/{night.pk}/list"), enter, at_most=14)


def test_board_and_club_say_when_the_seals_were_checked(
    night: RaceNight, chief: Person, client_of: ClientOf
) -> None:
    client = client_of(chief)
    assert "The seals have not been checked yet." in text_of(client, "/")
    act = builders.act(chief, minutes=300)
    close_night(night, act=act)
    settle_night(night, act=act)
    assert "at closing: all 3 hold." in text_of(client, "/")
    assert 'href="/seals"' in text_of(client, "/club")


def test_seals_page_lists_runs_and_what_the_last_one_found(
    night: RaceNight, chief: Person, client_of: ClientOf
) -> None:
    client = client_of(chief)
    assert "None yet." in text_of(client, "/seals")
    settle_night(night, act=builders.act(chief))
    by_force("UPDATE inspection_seal SET is_own_car = TRUE WHERE sequence = 2")
    check_seals(Occasion.DAILY, at=builders.act(minutes=60).at)
    page = text_of(client, "/seals")
    assert SealCheck.objects.count() == 2
    assert "daily: 1 difference." in page
    assert "own car is False in the seal, True in the tables" in page
    assert AuditLink.objects.get().sha256 in page
