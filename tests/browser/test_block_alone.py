"""A car from the board to its seal, by the keyboard alone and by touch alone."""

import time

import pytest
from playwright.sync_api import Page, expect

from inspection.models import Seal
from tests.browser import race_night
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import READING_MS, wait_until_sent
from tests.browser.race_night import GOOD, Club

#: What anybody types, keys a second, and how long a tap takes (common practice, no
#: source): from them how long a car would take by hand, gauges left aside.
KEYS_A_SECOND, SECONDS_A_TAP = 2.0, 1.0


@pytest.fixture
def club(transactional_db: None) -> Club:
    club = race_night.make_club()
    race_night.enter(club)
    return club


class Keys:
    """A keyboard, and how often a key was pressed."""

    def __init__(self, page: Page) -> None:
        self.page, self.count = page, 0

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.count += 1

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.count += len(text)

    def tab_to(self, selector: str) -> None:
        """Go on by Tab until what is wanted has the focus, and is seen to have it."""
        wanted = self.page.locator(selector).first
        for _ in range(80):
            if wanted.evaluate("one => one === document.activeElement"):
                assert wanted.evaluate("one => one.matches(':focus-visible')")
                return
            self.press("Tab")
        msg = f"Tab does not come to {selector}."
        raise AssertionError(msg)


def is_sealed(page: Page) -> None:
    expect(page.locator(".record-decision")).to_contain_text("Passed")
    assert Seal.objects.get().decision == "passed"


def test_car_goes_from_board_to_seal_by_the_keyboard_alone(
    page_of: Visitor, club: Club
) -> None:
    page = page_of(club.anna, viewport=DESK)
    keys = Keys(page)
    page.goto("/")
    began = time.monotonic()
    # Over the menu by the first link of every page, over the night's links by the next.
    for _ in range(2):
        keys.press("Tab")
        keys.press("Enter")
    keys.tab_to("a[href^='/entry/'][href$='/block']")
    keys.press("Enter")
    page.wait_for_url("**/entry/*/block")
    keys.press("Enter")
    expect(page.locator("#block-page[data-ready]")).to_be_attached()
    for text in GOOD.values():
        if text in {"yes", "no"}:
            # A person reads what is asked first.
            page.wait_for_timeout(READING_MS)
            is_slip = page.locator("#bench-slips").is_visible()
            keys.press("g" if is_slip else "y")
        else:
            keys.type(text)
            keys.press("Enter")
    wait_until_sent(page)
    keys.tab_to("#sealing-open")
    keys.press("Enter")
    keys.tab_to("#seal-passed")
    # What would be signed is read before it is.
    page.wait_for_timeout(READING_MS)
    keys.press("Enter")
    is_sealed(page)
    took = time.monotonic() - began
    by_hand = keys.count / KEYS_A_SECOND
    print(f"a car: {keys.count} keys, {took:.0f} s here, by hand {by_hand:.0f} s")  # noqa: T201


def test_car_goes_from_board_to_seal_by_touch_alone(
    page_of: Visitor, club: Club
) -> None:
    page = page_of(club.anna, viewport=PHONE, touch=True)
    taps = 0
    page.goto("/")
    page.locator("a[href^='/entry/'][href$='/block']").first.tap()
    page.locator("main button.primary").tap()
    expect(page.locator("#block-page[data-ready]")).to_be_attached()
    for text in GOOD.values():
        page.wait_for_timeout(READING_MS)
        if text in {"yes", "no"}:
            is_slip = page.locator("#bench-slips").is_visible()
            bench = page.locator("#bench-slips" if is_slip else "#bench-look")
            bench.get_by_role("button").and_(page.locator("[value=yes]")).tap()
        else:
            # The figures come off a caliper, or the phone's own keys.
            page.locator("#id_text").fill(text)
            page.locator("#bench-take").tap()
        taps += 1
    wait_until_sent(page)
    page.locator("#sealing-open").tap()
    # What would be signed is read before it is.
    page.wait_for_timeout(READING_MS)
    page.locator("#seal-passed").tap()
    is_sealed(page)
    print(f"a car: {taps + 4} taps, by hand {(taps + 4) * SECONDS_A_TAP:.0f} s")  # noqa: T201
