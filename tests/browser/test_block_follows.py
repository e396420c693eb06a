"""What is drawn and folded comes behind a reading, when the hand rests."""

import re

import pytest
from playwright.sync_api import APIResponse, Page, Route, expect

from inspection.models import Sheet
from tests.browser import race_night
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import open_block, wait_until_sent
from tests.browser.race_night import GOOD, Club

NEWS = re.compile(r"/block\?have=")


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def sheet(club: Club) -> Sheet:
    """All read but the widths."""
    sheet = race_night.make_sheet(club)
    read = {key: text for key, text in GOOD.items() if not key.startswith("width")}
    race_night.take(club, sheet, read)
    return sheet


@pytest.mark.parametrize("viewport", [None, PHONE])
def test_open_fold_and_drawing_follow_a_reading(
    page_of: Visitor, club: Club, sheet: Sheet, viewport: dict[str, int] | None
) -> None:
    page = page_of(club.anna, **({"viewport": viewport} if viewport else {}))
    open_block(page, sheet)
    rule, view = page.locator("#rules li", has_text="3.4"), page.locator("#rear-view")
    rule.locator("summary").first.click()
    expect(rule.locator(".rule-open")).to_contain_text("Not measured")
    drawn = view.get_attribute("data-tag")
    page.locator("#id_text").focus()
    page.keyboard.type("63.41\r")
    expect(rule.locator(".rule-value")).to_contain_text("63.41")
    # Far sooner than the next news, which come by themselves.
    expect(rule.locator(".rule-open")).to_contain_text("Pass;", timeout=3_000)
    expect(rule.locator(".rule-open")).to_be_visible()
    expect(view).not_to_have_attribute("data-tag", drawn or "", timeout=3_000)
    row = page.locator("#step-width_rear")
    row.locator("summary").click()
    expect(row).to_contain_text("Anna Quill")
    expect(page.locator("[aria-busy]")).to_have_count(0)


def test_fold_says_that_it_follows_and_is_whole_when_it_comes(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page, held = page_of(club.anna), Held()
    open_block(page, sheet)
    page.route(NEWS, held.keep)
    page.locator("#id_text").focus()
    page.keyboard.type("63.41\r")
    row = page.locator("#step-width_rear")
    expect(row.locator(".step-value")).to_contain_text("63.41")
    row.locator("summary").click()
    expect(row.locator("[aria-busy]")).to_be_visible()
    held.let_go(page)
    row.get_by_role("button", name="misread").click()
    # The line is right at once; what stood in the fold says so till it is.
    expect(row.locator(".step-value")).to_have_text(re.compile(r"^\s*–\s*$"))
    expect(row).to_contain_text("struck by Anna Quill: misread")
    expect(page.locator("[aria-busy]")).to_have_count(0)


def test_news_that_are_older_than_a_reading_are_left(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page, held = page_of(club.anna), Held()
    open_block(page, sheet)
    page.route(NEWS, held.keep)
    race_night.take(club, sheet, {"width_rear": "63.41"}, by=club.bert)
    # Bert's reading is on its way to Anna's page while she takes the same.
    held.wait(page)
    page.evaluate(
        """() => {
          const read = () => document.querySelector(
            "#step-width_rear .step-value").textContent.trim().replace(/\\s+/g, " ");
          window.seen = [read()];
          new MutationObserver(() => {
            if (read() !== window.seen.at(-1)) { window.seen.push(read()); }
          }).observe(document.body, { subtree: true, childList: true });
        }"""
    )
    page.locator("#id_text").focus()
    page.keyboard.type("63.43\r")
    wait_until_sent(page)
    held.let_go(page)
    row = page.locator("#step-width_rear")
    row.locator("summary").click()
    expect(row.locator("li")).to_have_count(2)
    expect(page.locator("[aria-busy]")).to_have_count(0)
    assert page.evaluate("window.seen") == ["–", "63.43 mm"]


class Held:
    """Answers to a page that have left the server and have not come."""

    def __init__(self) -> None:
        self.answers: list[tuple[Route, APIResponse]] = []
        self.is_over = False

    def keep(self, route: Route) -> None:
        if self.is_over:
            route.continue_()
        else:
            self.answers.append((route, route.fetch()))

    def wait(self, page: Page) -> None:
        while not self.answers:
            page.wait_for_timeout(50)

    def let_go(self, page: Page) -> None:
        """Let them come, and whatever is asked from now on."""
        self.wait(page)
        self.is_over = True
        for route, answer in self.answers:
            route.fulfill(response=answer)
