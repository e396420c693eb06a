"""The block without network, on a secure address: a shell, and no reading is lost."""

import pytest
from playwright.sync_api import Page, expect

from inspection.models import Sheet, SheetReading
from tests.browser import race_night
from tests.browser.conftest import Visitor
from tests.browser.hands import open_block, wait_until_sent
from tests.browser.race_night import GOOD, Club

KEPT = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const store = await caches.open(name);
    for (const one of await store.keys()) {
      found.push(new URL(one.url).pathname, await (await store.match(one)).text());
    }
  }
  return found;
}"""
READY = "() => navigator.serviceWorker.ready.then(() => true)"


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def sheet(club: Club) -> Sheet:
    """Give a sheet on which the figures off the caliper come next."""
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    return sheet


def texts() -> list[str]:
    rows = SheetReading.objects.filter(column__startswith="width").order_by("id")
    return list(rows.values_list("text", flat=True))


def go_away(page: Page, *words: str) -> None:
    """Cut the network, and type what the caliper says."""
    page.context.set_offline(True)
    for word in words:
        page.keyboard.type(f"{word}\r")
    expect(page.locator("#line")).to_contain_text("waiting to be sent")


def test_a_reload_without_network_shows_what_waits_and_sends_it_once_in_order(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna, keeps_shell=True)
    open_block(page, sheet)
    page.evaluate(READY)
    kept = page.evaluate(KEPT)
    assert "/sheet/shell.html" in kept
    # Of nobody and of no sheet.
    for word in (club.anna.name, club.chief.name, sheet.number):
        assert word not in "".join(kept)
    page.reload()
    go_away(page, "63.41", "58.11")
    page.reload()
    expect(page.get_by_role("heading", name="No network")).to_be_visible()
    expect(page.locator("#waiting li")).to_have_text(
        ["Width over the tyres, rear: 63.41", "Width over the tyres, front: 58.11"]
    )
    # A closed tab is no different.
    other = page.context.new_page()
    page.close()
    other.goto(f"/sheet/{sheet.number}/block")
    expect(other.locator("#waiting li")).to_have_count(2)
    other.context.set_offline(False)
    expect(other.locator("#bench")).to_be_visible()
    wait_until_sent(other)
    assert texts() == ["63.41", "58.11"]
    # Nobody signed in: nothing is kept for a page without network.
    other.context.clear_cookies()
    other.goto("/sign-in")
    other.wait_for_function("async () => (await caches.keys()).length === 0")


def test_what_the_page_s_own_store_lost_comes_back_and_is_taken_once(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    go_away(page, "63.41")
    page.evaluate("() => localStorage.clear()")
    page.context.set_offline(False)
    page.reload()
    expect(page.locator("#step-width_rear")).to_contain_text("63.41 mm")
    wait_until_sent(page)
    page.reload()
    wait_until_sent(page)
    assert texts() == ["63.41"]
