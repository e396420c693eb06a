"""The board: by keyboard, on a phone, and how it follows the night."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from inspection.actions.race_nights import withdraw_entry
from inspection.actions.seals import seal_sheet
from inspection.compute.entries import Decision
from tests.browser import race_night
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.browser.race_night import GOOD, Club

NARROW = {"width": 320, "height": 640}
A_POLL = 14_000


@pytest.fixture
def club(transactional_db: None) -> Club:
    """Give a night with a car in every state."""
    club = race_night.make_club()
    for _ in range(3):
        race_night.enter(club)
    race_night.make_sheet(club)
    for decision in Decision:
        sheet = race_night.make_sheet(club)
        race_night.take(club, sheet, GOOD)
        seal_sheet(sheet.number, decision=decision, act=race_night.now(club.anna))
    out = race_night.enter(club)
    withdraw_entry(out.pk, reason="motor gone", act=race_night.now(club.anna))
    return club


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_board_is_accessible_at_every_width(
    page_of: Visitor, club: Club, scheme: Any
) -> None:
    page = page_of(club.chief)
    page.emulate_media(color_scheme=scheme)
    for viewport in (NARROW, PHONE, DESK):
        page.set_viewport_size(viewport)  # type: ignore[arg-type]
        page.goto("/")
        groups = page.locator(".group-head .mark-word").all_inner_texts()
        assert groups == ["On block", "Waiting", "Sent back", "Passed", "Withdrawn"]
        assert not scrolls_sideways(page)
        assert_accessible(page)
        small = page.evaluate(
            """() => Array.from(document.querySelectorAll("#board :is(button, .row)"))
              .filter(e => e.getBoundingClientRect().height < 43.5).length"""
        )
        assert small == 0


def test_board_follows_the_night_and_leaves_an_unchanged_page_alone(
    page_of: Visitor, club: Club
) -> None:
    page = page_of(club.anna)
    statuses: list[int] = []
    page.on("response", lambda answer: keep_poll(statuses, answer))
    page.goto("/")
    row = page.locator(".row", has_text="next up").get_by_role("link").first
    row.focus()
    name = row.inner_text()
    page.evaluate("() => { document.querySelector('#board').dataset.mine = 'yes' }")
    page.wait_for_timeout(11_000)
    assert statuses == [304]
    assert page.locator("#board[data-mine]").count() == 1
    expect(page.locator(":focus")).to_have_text(name)
    fresh = race_night.enter(club)
    link = page.get_by_role("link", name=fresh.car.name, exact=True)
    expect(link).to_be_visible(timeout=A_POLL)
    expect(page.locator(":focus")).to_have_text(name)


def keep_poll(statuses: list[int], answer: Any) -> None:
    if "hx-request" in answer.request.headers:
        statuses.append(answer.status)


def test_member_opens_the_sheet_of_an_own_car_and_no_other(
    page_of: Visitor, club: Club
) -> None:
    passed = club.night.entries.get(state="passed")
    page = page_of(passed.driver)
    page.goto("/")
    expect(links_to_sheets(page)).to_have_count(1)
    links_to_sheets(page).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(passed.car.name)


def links_to_sheets(page: Page) -> Any:
    return page.locator("#board a[href^='/sheet/']")


def test_going_back_to_the_board_shows_the_page_and_not_a_piece_of_it(
    page_of: Visitor, club: Club
) -> None:
    page = page_of(club.anna)
    page.goto("/")
    page.wait_for_timeout(10_500)
    page.goto("/cars")
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text(club.night.name)
