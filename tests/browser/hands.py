"""What a scrutineer does at the block: hands on a caliper, a keyboard, a phone."""

import time
from collections.abc import Iterable, Mapping

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from inspection.models import Sheet

#: A person needs longer than this to read what is asked next; for 400 ms after a
#: step has appeared its answers do nothing.
READING_MS = 450
UNSENT = (
    "() => Object.keys(localStorage).filter(k => k.startsWith('feelerbook-reading/'))"
    ".length"
)


def open_block(page: Page, sheet: Sheet) -> None:
    page.goto(f"/sheet/{sheet.number}/block")
    expect(page.locator("#block-page[data-ready]")).to_be_attached()
    page.wait_for_timeout(READING_MS)


def asked(page: Page) -> str:
    return page.locator("#bench-ask").inner_text()


def columns_asked(page: Page) -> list[str]:
    """Give what the block still asks, in its order."""
    steps = page.evaluate(
        "() => JSON.parse(document.getElementById('steps-data').textContent).steps"
    )
    return [step["column"] for step in steps if step["asked"] and not step["value"]]


def type_reading(
    page: Page, text: str, *, ending: str = "\r", delay: float = 0
) -> None:
    """Type as a caliper does: figures, then an end of line or a tab."""
    if ending == "\t":
        type_by_the_clock(page, [*text, "Tab"], gap_s=delay / 1000)
    else:
        page.keyboard.type(text + ending, delay=delay)


def type_by_the_clock(
    page: Page, keys: Iterable[str], *, gap_s: float, start: float | None = None
) -> None:
    """
    Press keys that carry the times a caliper would give them.

    Where a tab counts only by its speed, the load of this machine must not.
    """
    session = page.context.new_cdp_session(page)
    when = start or time.time()
    for n, key in enumerate(keys):
        text = {"Enter": "\r", "Tab": ""}.get(key, key)
        said = {"key": key, "timestamp": when + n * gap_s}
        if key in {"Enter", "Tab"}:
            said["windowsVirtualKeyCode"] = {"Enter": 13, "Tab": 9}[key]
        session.send(
            "Input.dispatchKeyEvent", {"type": "keyDown", "text": text, **said}
        )
        session.send("Input.dispatchKeyEvent", {"type": "keyUp", **said})
        if gap_s and start is None:
            page.wait_for_timeout(gap_s * 1000)
    session.detach()


def press_enter(page: Page) -> None:
    page.wait_for_timeout(READING_MS)
    page.keyboard.press("Enter")


def answer(page: Page) -> None:
    """Answer by Enter, and wait until the next is asked."""
    before = asked(page)
    press_enter(page)
    expect(page.locator("#bench-ask")).not_to_have_text(before)


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
            answer(page)
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


def press_seal(page: Page) -> None:
    """Press the button under the hand: once shows what would be signed, twice signs."""
    press_enter(page)
    expect(page.locator("#sealing")).to_have_attribute("open", "")
    press_enter(page)


def open_seal(page: Page) -> None:
    """Open what would be signed, and read it."""
    page.locator("#sealing-open").click()
    page.wait_for_timeout(READING_MS)


def open_folds(page: Page) -> None:
    """Open every fold at once: what opens over others hides them from a click."""
    page.evaluate(
        "document.querySelectorAll('main details').forEach(d => d.open = true)"
    )
    page.wait_for_timeout(READING_MS)


def seal(page: Page, words: str) -> None:
    """Seal a sheet: one tap opens what would be signed, the second signs it."""
    open_seal(page)
    page.get_by_role("button", name=words).click()


def open_tray(page: Page) -> Locator:
    """Open what waits for an answer under the field."""
    page.locator("#tray-head").click()
    page.wait_for_timeout(READING_MS)
    return page.locator("#tray li")


def send_back_by_word(page: Page) -> None:
    """Seal a car's sheet as the chief does where nothing read speaks against it."""
    open_seal(page)
    page.get_by_text("Send it back without a finding").click()
    page.locator("#seal-reason").fill("The rear wheels rub on the body.")
    page.locator("#seal-sent-back").click()
