"""Two browsers on one car: both readings on both pages, one seal."""

import re

import pytest
from playwright.sync_api import Page, expect

from inspection.actions.seals import first_broken_seal
from inspection.models import Seal, Sheet, SheetReading
from tests.browser import race_night
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import (
    open_block,
    open_seal,
    seal,
    send_back_by_word,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club

A_FEW_SECONDS = 9_000


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def sheet(club: Club) -> Sheet:
    return race_night.make_sheet(club)


def test_both_see_both_readings_and_neither_is_disturbed(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    anna, bert = page_of(club.anna), page_of(club.bert, viewport=PHONE)
    for page in (anna, bert):
        open_block(page, sheet)
    # Bert has begun to type a reason and a figure when Anna's reading arrives.
    row = bert.locator("#step-lights_work")
    row.locator("summary").click()
    row.get_by_label("Strike yes, because").fill("half of th")
    bert.locator("#id_text").focus()
    bert.keyboard.type("58.")
    anna.keyboard.type("63.41\r")
    width = bert.locator("#step-width_rear")
    expect(width).to_contain_text("63.41 mm", timeout=A_FEW_SECONDS)
    expect(bert.locator("#bench-step")).to_contain_text("On the sheet already: 63.41")
    expect(bert.locator("#id_text")).to_have_value("58.")
    expect(bert.locator("#id_text")).to_be_focused()
    expect(row.get_by_label("Strike yes, because")).to_have_value("half of th")
    # He goes on with what is still empty.
    bert.locator("#id_text").fill("")
    bert.get_by_role("button", name="Later").click()
    expect(bert.locator("#bench-ask")).to_have_text("Width over the tyres, front")
    bert.keyboard.type("58.11\r")
    expect(anna.locator("#step-width_front")).to_contain_text(
        "58.11 mm", timeout=A_FEW_SECONDS
    )
    assert SheetReading.objects.filter(column__startswith="width").count() == 2


def test_two_who_read_the_same_differently_are_asked_to_strike_one(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, GOOD)
    race_night.take(club, sheet, {"width_rear": "63.10"}, by=club.bert)
    page = page_of(club.anna)
    open_block(page, sheet)
    row = page.locator("#step-width_rear")
    expect(row).to_contain_text("disagree")
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Two sets of readings disagree; strike one of each")
    expect(page.locator("#seal-passed")).to_have_count(0)
    open_seal(page)
    verdict.get_by_role("link", name="Width over the tyres, rear").click()
    expect(row.locator("li", has_text="Anna Quill")).to_contain_text("63.41")
    mine = row.locator("li", has_text="Bert Ash")
    mine.get_by_role("button", name="dirt under it").click()
    expect(page.locator("#sealing-open")).to_contain_text("Seal: passed")


def test_one_seal_wins_and_the_other_is_told(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, GOOD)
    anna, bert = page_of(club.anna), page_of(club.bert)
    for page in (anna, bert):
        open_block(page, sheet)
    hold_news(bert)
    seal(anna, "Seal: passed")
    anna.wait_for_url(re.compile(r"/sheet/[0-9-]+$"))
    seal(bert, "Seal: passed")
    bert.wait_for_url(re.compile(r"/sheet/[0-9-]+$"))
    expect(bert.get_by_role("status")).to_contain_text(
        f"Sheet {sheet.number} was sealed by Anna Quill"
    )
    assert Seal.objects.get().sealed_by == club.anna
    assert first_broken_seal(club.night) is None


def test_page_that_is_open_says_when_another_seals(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, {**GOOD, "width_rear": "64.20"})
    anna, bert = page_of(club.anna), page_of(club.bert)
    for page in (anna, bert):
        open_block(page, sheet)
    seal(anna, "Seal: send back")
    line = bert.locator("#line")
    expect(line).to_contain_text(
        f"Sheet {sheet.number} was sealed by Anna Quill: sent back.",
        timeout=A_FEW_SECONDS,
    )
    expect(bert.locator("#bench")).to_be_hidden()
    line.get_by_role("link", name="Open the sheet").click()
    bert.wait_for_url(re.compile(r"/sheet/[0-9-]+$"))


def test_reading_that_comes_after_the_seal_is_held_and_said(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    chief, bert = page_of(club.chief), page_of(club.bert)
    for page in (chief, bert):
        open_block(page, sheet)
    hold_news(bert)
    send_back_by_word(chief)
    chief.wait_for_url(re.compile(r"/sheet/[0-9-]+$"))
    bert.keyboard.type("63.41\r")
    expect(bert.locator("#tray li")).to_contain_text("was sealed by Cleo Marsh")
    expect(bert.locator("#tray li")).to_contain_text("63.41")
    expect(bert.locator("#line")).to_contain_text("was sealed by Cleo Marsh")
    assert not SheetReading.objects.filter(text="63.41").exists()


def test_second_person_takes_it_again_within_a_tenth_of_the_limit(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("63.95\r")
    rule = page.locator("#rules li", has_text="3.4")
    expect(rule).to_contain_text("let a second person read it")
    wait_until_sent(page)
    race_night.take(club, sheet, {"width_rear": "63.94"}, by=club.bert)
    expect(rule).to_contain_text("63.94", timeout=A_FEW_SECONDS)
    expect(rule).not_to_contain_text("let a second person read it")


def hold_news(page: Page) -> None:
    """Keep a page from hearing what the other one does."""
    page.route("**/block?have=*", lambda route: route.fulfill(status=204))
