"""A car on the block, from the board to its sealed sheet."""

import re

import pytest
from playwright.sync_api import Page, expect

from inspection.models import Sheet, SheetReading
from tests.browser import race_night
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import (
    READING_MS,
    open_block,
    press_enter,
    press_seal,
    scrolls_sideways,
    seal,
    take_all,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club

SEALED = re.compile(r"/sheet/[0-9-]+$")
SIZES = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


def walk_to(page: Page, words: str) -> None:
    """Press Tab until what has the focus says the words."""
    says = (
        "() => document.activeElement.matches('a, button, summary')"
        " ? document.activeElement.innerText : ''"
    )
    for _ in range(60):
        if words in page.evaluate(says):
            return
        page.keyboard.press("Tab")
    msg = f"Tab does not reach “{words}”."
    raise AssertionError(msg)


@SIZES
def test_car_goes_from_board_to_sealed_sheet_by_keyboard_alone(
    page_of: Visitor, club: Club, viewport: dict[str, int]
) -> None:
    """Within K9: at most 20 times Enter for the readings, and 4 presses besides."""
    first, following = race_night.enter(club), race_night.enter(club)
    page = page_of(club.anna, viewport=viewport)
    page.goto("/")
    walk_to(page, first.car.name)
    page.keyboard.press("Enter")
    page.wait_for_url("**/entry/*/block")
    page.keyboard.press("Enter")
    page.wait_for_url("**/sheet/*/block")
    assert not scrolls_sideways(page)
    enters = take_all(page, GOOD)
    assert enters <= 20
    expect(page.locator("#verdict-head")).to_contain_text("All rules met")
    walk_to(page, "Seal: passed")
    press_seal(page)
    page.wait_for_url(SEALED)
    sheet = Sheet.objects.get()
    assert sheet.seal.decision == "passed"
    assert [r.column for r in sheet.readings.all()] == list(GOOD)
    expect(page.locator(".record-decision")).to_contain_text("Passed")
    assert not scrolls_sideways(page)
    # The next car is two presses away.
    page.get_by_role("link", name=f"Next: {following.car}").press("Enter")
    page.wait_for_url("**/entry/*/block")
    page.keyboard.press("Enter")
    page.wait_for_url("**/sheet/*/block")
    expect(page.get_by_role("heading", level=1)).to_contain_text(following.car.name)


@SIZES
def test_low_car_is_sent_back_with_rule_value_limit_and_by_how_much(
    page_of: Visitor, club: Club, viewport: dict[str, int]
) -> None:
    sheet = race_night.make_sheet(club)
    # Two slips: 0.90 goes and 0.96 stops, so 0.93, and 0.07 below the limit.
    rest = {k: v for k, v in GOOD.items() if k != "clearance_rear"}
    race_night.take(club, sheet, rest)
    page = page_of(club.anna, viewport=viewport)
    open_block(page, sheet)
    walk_to(page, "Two slips")
    press_enter(page)
    page.keyboard.type("0.90\r")
    page.keyboard.type("0.96\r")
    wait_until_sent(page)
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Not legal")
    failing = page.locator(".rules-group[data-group=fails] li")
    for words in ("2.1", "0.93", "at least 1.00 mm", "0.07 mm outside", "Fail"):
        expect(failing).to_contain_text(words)
    for words in ("2.1", "0.93", "0.07 mm outside"):
        expect(verdict.locator(".verdict-what")).to_contain_text(words)
    assert not scrolls_sideways(page)
    walk_to(page, "Seal: send back")
    press_seal(page)
    page.wait_for_url(SEALED)
    statement = page.locator(".record-statement")
    for words in ("Sent back", "2.1", "0.93", "at least 1.00 mm", "0.07 mm too little"):
        expect(statement).to_contain_text(words)
    assert Sheet.objects.get().seal.decision == "sent back"


def test_limit_slip_that_stops_is_a_fail_and_says_so(
    page_of: Visitor, club: Club
) -> None:
    sheet = race_night.make_sheet(club)
    values = {k: v for k, v in GOOD.items() if k not in {"clearance_rear"}}
    race_night.take(club, sheet, values)
    page = page_of(club.anna)
    open_block(page, sheet)
    page.get_by_role("button", name="It stops").click()
    finding = page.locator(".rules-group[data-group=fails] li")
    expect(finding).to_contain_text("< 1.00")
    expect(finding).to_contain_text("slip does not go under; at least 1.00 mm")
    assert SheetReading.objects.get(column="clearance_rear").text == "1.00 stops"


def test_readings_change_outcomes_and_views_as_they_arrive(
    page_of: Visitor, club: Club
) -> None:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:8]))
    page = page_of(club.anna)
    open_block(page, sheet)
    rule = page.locator("#rules li", has_text="3.1")
    expect(rule).to_contain_text("Not measured")
    before = page.locator("#rear-view svg").inner_html()
    page.keyboard.type("20.41\r")
    page.keyboard.type("20.44\r")
    expect(rule).to_contain_text("Pass")
    expect(rule).to_contain_text("2.41 mm to spare")
    expect(page.locator("#rear-view svg")).to_contain_text("20.41")
    assert page.locator("#rear-view svg").inner_html() != before
    expect(page.locator("#last-words")).to_contain_text("3.1 pass, 2.41 mm to spare")
    expect(page.locator("#say")).to_contain_text("3.1 pass")


def test_repeat_averages_and_a_struck_one_no_longer_counts(
    page_of: Visitor, club: Club
) -> None:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:8]))
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("20.40\r")
    expect(page.get_by_role("button", name="Once more")).to_be_visible()
    page.wait_for_timeout(READING_MS)
    page.get_by_role("button", name="Once more").click()
    expect(page.locator("#bench-ask")).to_have_text("Tyre diameter, rear, left")
    page.keyboard.type("20.44\r")
    row = page.locator("#step-tyre_diameter_rear_left")
    expect(row).to_contain_text("20.42 mm")
    expect(row).to_contain_text("of 2")
    # Undone within two taps.
    page.wait_for_timeout(READING_MS)
    page.get_by_role("button", name="Strike it").click()
    page.locator("#last-strike-form").get_by_role("button", name="misread").click()
    expect(row).to_contain_text("20.40 mm")
    assert SheetReading.objects.get(text="20.44").strike.reason == "misread"
    expect(page.locator("#id_text")).to_be_focused()


def test_strike_in_the_list_needs_words_for_a_reason(
    page_of: Visitor, club: Club
) -> None:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, {"weight_car": "98.3"})
    page = page_of(club.anna)
    open_block(page, sheet)
    row = page.locator("#step-weight_car")
    row.locator("summary").click()
    row.get_by_label("Strike 98.3, because").fill("20.41")
    row.get_by_role("button", name="Strike", exact=True).click()
    expect(row.get_by_role("alert")).to_contain_text("“20.41” is no reason")
    row.get_by_label("Strike 98.3, because").fill("scale was not at zero")
    row.get_by_role("button", name="Strike", exact=True).click()
    expect(row).to_contain_text("struck by Anna Quill: scale was not at zero")
    expect(page.locator("#rules li", has_text="4.2")).to_contain_text("Not measured")


def test_recheck_says_what_is_carried_over_and_what_is_to_take(
    page_of: Visitor, club: Club
) -> None:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, {**GOOD, "width_rear": "64.20"})
    page = page_of(club.anna)
    open_block(page, sheet)
    seal(page, "Seal: send back")
    page.wait_for_url(SEALED)
    page.goto("/")
    page.get_by_role("button", name="Back in the queue").click()
    page.get_by_role("link", name=sheet.entry.car.name).click()
    page.wait_for_url("**/entry/*/block")
    page.get_by_role("button", name="On the block").click()
    page.wait_for_url("**/sheet/*/block")
    summary = page.locator(".recheck summary")
    expect(summary).to_contain_text(f"Re-check of {sheet.number}")
    expect(summary).to_contain_text("15 carried over, 1 to take")
    expect(page.locator("#bench-ask")).to_have_text("Width over the tyres, rear")
    summary.click()
    expect(page.locator(".recheck")).to_contain_text("To take again: Width over the")
