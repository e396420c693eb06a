"""People on their way through a club: what they press, and how an empty club begins."""

import io
import re
import time
from typing import Any

import zxingcpp
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from inventory.actions.people.beginning import make_beginning
from tests import builders
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.conftest import PASSWORD

#: A link that is seen, or is behind a fold that is, and leads elsewhere.
_WAYS_OUT = """() => [...document.querySelectorAll("a[href], form button")].filter(
  e => (e.checkVisibility() || e.closest("details")?.checkVisibility())
    && (e.form || new URL(e.href).pathname !== location.pathname)).length"""


class Walk:
    """
    One person's way from page to page; ``steps``: the pages that they came to.

    Each page is held to what all promise: no status of a fault, nothing to scroll
    sideways, a way on.  ``is_close``: to the rules of accessibility as well.
    """

    def __init__(self, page: Page, *, is_close: bool = False) -> None:
        self.page = page
        self.is_close = is_close
        self.began = time.monotonic()
        self.steps = 0
        self.statuses: list[tuple[int, str]] = []
        page.on("response", self._hear)

    def _hear(self, answer: Any) -> None:
        if answer.request.is_navigation_request():
            self.statuses.append((answer.status, answer.url))

    @property
    def main(self) -> Locator:
        return self.page.locator("#main")

    def look(self) -> None:
        """Hold what is shown to what every page promises."""
        self.steps += 1
        assert not [said for said in self.statuses if said[0] >= 400], self.statuses
        assert not scrolls_sideways(self.page), self.page.url
        assert self.page.evaluate(_WAYS_OUT) > 0, f"no way on: {self.page.url}"
        if self.is_close:
            assert_accessible(self.page)

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.look()

    def take(self, step: str) -> None:
        """Leave for Tonight, find the step there, and open it."""
        self.open("/")
        self.follow(step)

    def fill(self, **said: str) -> None:
        for label, text in said.items():
            words = label.replace("_", " ").capitalize()
            self.page.get_by_label(words, exact=True).fill(text)

    def press(self, name: str | re.Pattern[str]) -> None:
        is_exact = isinstance(name, str)
        with self.page.expect_navigation():
            self.page.get_by_role("button", name=name, exact=is_exact).click()
        self.look()

    def follow(self, name: str | re.Pattern[str]) -> None:
        is_exact = isinstance(name, str)
        with self.page.expect_navigation():
            self.main.get_by_role("link", name=name, exact=is_exact).first.click()
        self.look()


def scanned(page: Page) -> str:
    """Read the code on the screen, as a phone's camera would."""
    picture = Image.open(io.BytesIO(page.locator("svg.code").screenshot()))
    (code,) = zxingcpp.read_barcodes(picture)
    return str(code.text)


def begin(walk: Walk, address: str = "") -> None:
    """Begin the club at the address that was printed; without one it is made here."""
    address = address or f"/begin/{make_beginning(at=builders.now())}"
    walk.open(address)
    walk.fill(your_name="Ada Wimple", password=PASSWORD)
    walk.page.get_by_label("Sign-in name").fill("ada")
    walk.press("Begin")
    to_do = walk.page.get_by_role("heading", name="Before the first night")
    expect(to_do).to_be_visible()


def settle(walk: Walk) -> None:
    walk.take("Name the club")
    walk.fill(name_of_the_club="Nether Racers", where_it_meets="The dairy")
    walk.page.get_by_label("Time zone").select_option("Europe/Berlin")
    walk.press("Keep")
    walk.take("Name the blocks")
    walk.fill(name="Window")
    walk.press("Add")


def write_rules(walk: Walk) -> None:
    walk.take("Classes and a first rulebook")
    walk.follow("First steps")
    walk.press("Take it")
    walk.take("Classes and a first rulebook")
    walk.follow("Edition 1")
    walk.follow("Publish")
    walk.press(re.compile("^Publish"))
    published = walk.page.get_by_role("button", name="New draft from it")
    expect(published).to_be_visible()


def join(walk: Walk) -> None:
    walk.take("People")
    walk.follow("Add a person")
    walk.fill(name="Bo Trott", first_password="nine slow carts roll by")
    walk.page.get_by_label("Sign-in name").fill("bo")
    walk.press("Add")


def check_gauges(walk: Walk) -> None:
    walk.take("Gauges")
    for name in ("Caliper", "Scale", "Limit slips"):
        walk.page.get_by_role("checkbox", name=name, exact=True).check()
    walk.press("Bring into use")
    for name, size in (("Caliper", "20"), ("Scale", "100"), ("Limit slips", "1")):
        check_gauge(walk, name, size)


def check_gauge(walk: Walk, name: str, size: str) -> None:
    walk.open("/gauges")
    walk.follow(re.compile(rf"Check\s+{name}\b"))
    walk.page.get_by_label("Master, its size").fill(size)
    walk.page.get_by_label("Readings of the master").fill(size)
    walk.press("Check")
