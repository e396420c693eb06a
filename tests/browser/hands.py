"""What a scrutineer does at the block: hands on a caliper, a keyboard, a phone."""

from collections.abc import Mapping

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from inspection.models import Sheet

#: A person needs longer than this to read what is asked next.
READING_MS = 400
UNSENT = (
    "() => Object.keys(localStorage).filter(k => k.startsWith('feelerbook-reading/'))"
    ".length"
)


def open_block(page: Page, sheet: Sheet) -> None:
    page.goto(f"/sheet/{sheet.number}/block")
    expect(page.locator("#bench-ask")).not_to_be_empty()
    page.wait_for_timeout(READING_MS)


def asked(page: Page) -> str:
    return page.locator("#bench-ask").inner_text()


def type_reading(
    page: Page, text: str, *, ending: str = "\r", delay: float = 0
) -> None:
    """Type as a caliper does: figures, then an end of line or a tab."""
    page.keyboard.type(text, delay=delay)
    if delay:
        page.wait_for_timeout(delay)
    if ending == "\t":
        page.keyboard.press("Tab")
    else:
        page.keyboard.type(ending, delay=delay)


def press_enter(page: Page) -> None:
    page.wait_for_timeout(READING_MS)
    page.keyboard.press("Enter")


def wait_until_sent(page: Page, *, timeout_s: float = 20) -> None:
    for _ in range(round(timeout_s * 20)):
        if not unsent(page):
            return
        page.wait_for_timeout(50)
    msg = f"{unsent(page)} readings are still on the device."
    raise AssertionError(msg)


def unsent(page: Page) -> int:
    count: int = page.evaluate(UNSENT)
    return count


def take_all(page: Page, values: Mapping[str, str]) -> int:
    """Answer every step by the keyboard alone; give how often Enter was pressed."""
    enters = 0
    for text in values.values():
        if text in {"yes", "no"}:
            if text == "no":
                page.keyboard.press("Tab")
            press_enter(page)
        else:
            type_reading(page, text)
        enters += 1
    wait_until_sent(page)
    expect(page.locator("#bench-ask")).to_have_text(
        "Everything asked tonight is taken."
    )
    return enters


def scrolls_sideways(page: Page) -> bool:
    width: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return width > 0


def assert_accessible(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
