"""The board: by keyboard, on a phone, and how it follows the night."""

import re
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.actions.night.blocks import add_block, man_block
from inspection.actions.race_nights import open_night, plan_night, withdraw_entry
from inspection.actions.seals import seal_sheet
from inspection.compute.night.entries import Decision
from inspection.models import RaceClass, Sheet
from tests import builders
from tests.browser import race_night
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.browser.race_night import GOOD, Club
from tests.inspection.night.test_list_pages import add_cars

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
        width = "64.20" if decision is Decision.SENT_BACK else GOOD["width_rear"]
        race_night.take(club, sheet, {**GOOD, "width_rear": width})
        seal_sheet(sheet.number, decision=decision, act=race_night.now(club.anna))
    out = race_night.enter(club)
    withdraw_entry(out.pk, reason="motor gone", act=race_night.now(club.anna))
    return club


@pytest.mark.parametrize("viewport", [NARROW, PHONE, DESK])
def test_classes_that_may_be_called_first_are_targets_well_apart(
    page_of: Visitor, viewport: dict[str, int], transactional_db: None
) -> None:
    saloon, edition = builders.make_class(), builders.make_edition()
    proto = RaceClass.objects.create(name="Prototype", rulebook=saloon.rulebook)
    night = plan_night(
        name="Two",
        date=builders.NOW.date(),
        place="",
        editions={saloon: edition, proto: edition},
        act=builders.act(),
    )
    open_night(night, act=builders.act())
    page = page_of(builders.make_scrutineer(), viewport=viewport)
    page.goto(f"/night/{night.pk}")
    boxes = page.get_by_role("button", name=re.compile(" first$")).evaluate_all(
        "all => all.map(e => e.getBoundingClientRect().toJSON())"
    )
    first, second = boxes
    assert max(second["left"] - first["right"], second["top"] - first["bottom"]) >= 8


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
        assert groups == ["Waiting", "On the block", "Sent back", "Passed"]
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
    row = page.locator(".row", has_text="Next up").get_by_role("link").first
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


def test_night_of_eighty_cars_is_run_from_the_board(
    page_of: Visitor, club: Club
) -> None:
    block = add_block("Stage block", act=race_night.now(club.chief))
    man_block(block, club.anna, act=race_night.now(club.chief))
    add_cars(club.night)(74)
    crowd = club.night.entries.filter(car__tag__startswith="X")
    crowd.update(state_since=timezone.now())
    page = page_of(club.anna)
    for width in (1000, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        page.goto("/")
        lanes = [lane.bounding_box() for lane in page.locator(".lane").all()]
        assert all(lane is not None for lane in lanes)
        tops = {round(lane["y"]) for lane in lanes if lane}
        # Side by side, from the left to the right.
        assert len(tops) == 1
        lefts = [lane["x"] for lane in lanes if lane]
        assert lefts == sorted(set(lefts))
        assert not scrolls_sideways(page)
    strips = page.locator("#lane-waiting ~ ol > .row:not(.is-next-up)")
    heights = strips.evaluate_all(
        "all => all.map(e => e.getBoundingClientRect().height)"
    )
    waiting = club.night.entries.filter(state="waiting").count()
    assert len(heights) == waiting - 1 > 20
    expect(page.locator("#passed-more")).to_be_visible()
    # Two lines of words and the air around them: ten on a screen.
    assert max(heights) <= 72
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    assert not scrolls_sideways(page)
    # What is opened stays open while the board is sent again.
    more = page.locator("details", has_text="Withdraw").first
    more.locator("summary").click()
    race_night.enter(club)
    page.evaluate(
        "htmx.ajax('GET', location.href, {target: '#board', swap: 'outerHTML'})"
    )
    expect(strips).to_have_count(waiting)
    expect(more.get_by_role("link", name="Withdraw")).to_be_visible()
    expect(page.locator(".lane-block", has_text=block.name)).to_contain_text(
        club.anna.name
    )
    # One button, one press: the next car is on the block where she measures.
    page.locator(".is-next-up .button.primary").click()
    page.wait_for_url("**/block")
    assert Sheet.objects.latest("pk").block == block


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
