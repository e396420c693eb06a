"""A caliper as a keyboard: goals K1, K2, K3, K6, K7 and K8."""

import json
import time
from typing import Any

import pytest
from playwright.sync_api import Page, Request, Route, expect

from inspection.models import SheetReading
from tests.browser import race_night
from tests.browser.conftest import Visitor
from tests.browser.hands import (
    READING_MS,
    asked,
    columns_asked,
    open_block,
    open_tray,
    type_by_the_clock,
    type_reading,
    unsent,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club
from tests.builders import rule

#: Quantities in millimetres, with a size that none of them finds strange.
SIZES = {
    "rim_diameter": 16,
    "tyre_diameter_rear": 20,
    "tyre_diameter_front": 20,
    "tyre_width_rear": 9,
    "tyre_width_front": 9,
    "width_rear": 62,
    "width_front": 61,
    "wheelbase": 95,
    "body_width": 70,
    "body_length": 160,
    "body_height": 30,
    "chassis_width": 40,
    "guide_depth": 6,
    "guide_width": 2,
    "guide_lead": 100,
    "gear_diameter": 17,
    "can_height": 15,
    "can_width": 15,
    "can_length": 25,
}
WITHIN = 20
READING_POST = "**/sheet/*/reading"
ENDINGS = ("\r", "\n", "\r\n", "\t")


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def numbers(transactional_db: None) -> Club:
    """Give a club whose rulebook asks for figures off a caliper, and nothing else."""
    keys = enumerate(SIZES)
    return race_night.make_club([rule(str(n), key, lower=0) for n, key in keys])


def kept_rows(page: Page) -> list[dict[str, Any]]:
    texts = page.evaluate(
        "() => Object.entries(localStorage)"
        ".filter(([k]) => k.startsWith('feelerbook-reading/')).map(([, v]) => v)"
    )
    return sorted(map(json.loads, texts), key=lambda row: int(row["order"]))


def count_flying(page: Page) -> set[Request]:
    """Give the readings that are on their way, as they come and go."""
    flying: set[Request] = set()

    def goes(request: Request) -> None:
        if request.method == "POST":
            flying.add(request)

    def ends(request: Request) -> None:
        flying.discard(request)

    page.on("request", goes)
    page.on("requestfailed", ends)
    page.on("requestfinished", ends)
    return flying


#: What is kept twice is thrown away twice.
FORGET = """() => new Promise(done => {
  localStorage.clear();
  const asked = indexedDB.open("feelerbook", 1);
  asked.onsuccess = () => {
    const change = asked.result.transaction("readings", "readwrite");
    change.objectStore("readings").clear();
    change.oncomplete = () => { asked.result.close(); done(); };
  };
})"""


def forget(page: Page, flying: set[Request]) -> None:
    """Leave the page with all that it keeps thrown away."""
    page.evaluate(FORGET)
    # One that is held up while the page is left would reach the server after all.
    while flying:
        page.wait_for_timeout(20)
    page.goto("about:blank")


def size_of(column: str, number: int) -> str:
    """Give a text unlike that of any reading near it."""
    key = column.removesuffix("_left").removesuffix("_right")
    return f"{SIZES[key] + number % 97 / 100:.2f}"


@pytest.mark.parametrize(
    ("delay", "rounds"),
    [
        (0, 4),
        (30, 2),
        *(
            pytest.param(*one, marks=pytest.mark.long)
            for one in ((0, 36), (5, 10), (30, 4))
        ),
    ],
)
def test_a_thousand_readings_are_kept_each_for_its_own_step(
    page_of: Visitor, numbers: Club, delay: float, rounds: int
) -> None:
    """
    K1: 50 rounds of 20 steps, with every ending; none is lost or merged.

    Each run makes six of the rounds: every ending at once after the last figure, and
    two at a caliper's own pace.
    """
    sheet = race_night.make_sheet(numbers)
    page = page_of(numbers.anna)
    page.on("dialog", lambda dialog: dialog.accept())
    page.route(READING_POST, lambda route: route.abort("internetdisconnected"))
    flying = count_flying(page)
    typed = 0
    for number in range(rounds):
        open_block(page, sheet)
        columns = columns_asked(page)
        texts = [size_of(column, typed + n) for n, column in enumerate(columns)]
        for text in texts:
            type_reading(page, text, ending=ENDINGS[number % 4], delay=delay)
        rows = kept_rows(page)
        assert [(r["column"], r["text"]) for r in rows] == list(
            zip(columns, texts, strict=True)
        )
        assert {r["state"] for r in rows} == {"waiting"}
        typed += len(texts)
        if number < rounds - 1:
            forget(page, flying)
    assert typed == 20 * rounds
    # The last round goes to the sheet when the network is back.
    page.unroute(READING_POST)
    page.get_by_role("button", name="Send now").click()
    wait_until_sent(page, timeout_s=40)
    found = list(SheetReading.objects.order_by("id").values_list("column", "text"))
    assert found == list(zip(columns, texts, strict=True))


def test_enter_moves_on_once_and_an_empty_field_takes_nothing(
    page_of: Visitor, numbers: Club
) -> None:
    """K2: two line ends are one; Enter never seals."""
    sheet = race_night.make_sheet(numbers)
    page = page_of(numbers.anna)
    open_block(page, sheet)
    columns = columns_asked(page)
    type_reading(page, size_of(columns[0], 1), ending="\r\r\r")
    second = asked(page)
    page.wait_for_timeout(READING_MS)
    page.keyboard.press("Enter")
    expect(page.locator("#bench-error")).to_contain_text("Nothing is typed")
    assert asked(page) == second
    for n, column in enumerate(columns[1:]):
        type_reading(page, size_of(column, n), ending="\r\n")
    wait_until_sent(page, timeout_s=40)
    for _ in range(3):
        page.wait_for_timeout(READING_MS)
        page.keyboard.press("Enter")
    assert SheetReading.objects.count() == len(columns)
    sheet.refresh_from_db()
    assert not sheet.is_sealed


@pytest.mark.parametrize(("apart", "kept"), [(0.25, 1), (0.8, 2)])
def test_key_bounce_is_one_reading_and_two_honest_ones_are_two(
    page_of: Visitor, numbers: Club, apart: float, kept: int
) -> None:
    """K6."""
    sheet = race_night.make_sheet(numbers)
    page = page_of(numbers.anna)
    open_block(page, sheet)
    page.on("dialog", lambda dialog: dialog.accept())
    page.context.set_offline(True)
    start = time.time()
    for when in (start, start + apart):
        type_by_the_clock(page, [*"16.20", "Enter"], gap_s=0.005, start=when)
    assert len(kept_rows(page)) == kept
    note = page.locator("#bench-error")
    if kept == 1:
        expect(note).to_contain_text("“16.20” came twice within 0.3 s: taken once.")
    else:
        expect(note).to_be_empty()
    forget(page, set())


@pytest.mark.parametrize(("gap", "kept"), [(0.03, 1), (0.15, 0)])
def test_tab_takes_a_reading_at_a_calipers_speed_and_moves_on_at_a_persons(
    page_of: Visitor, numbers: Club, gap: float, kept: int
) -> None:
    sheet = race_night.make_sheet(numbers)
    page = page_of(numbers.anna)
    open_block(page, sheet)
    page.on("dialog", lambda dialog: dialog.accept())
    page.context.set_offline(True)
    type_by_the_clock(page, [*"16.20", "Tab"], gap_s=gap, start=time.time())
    assert len(kept_rows(page)) == kept
    has_focus = page.evaluate("() => document.activeElement.id")
    assert has_focus == ("id_text" if kept else "bench-take")
    page.evaluate("() => localStorage.clear()")


def test_what_is_typed_while_no_field_is_ready_waits_and_triggers_nothing(
    page_of: Visitor, club: Club
) -> None:
    """K7, with the focus on a button, on nothing and on a fold; U12: no shortcuts."""
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = page_of(club.anna)
    open_block(page, sheet)
    taken = SheetReading.objects.count()
    for place in ("#bench-take", "#verdict-head", "#step-lights_work-fold"):
        page.locator(place).focus()
        type_reading(page, "63.41", ending="\r", delay=5)
        page.wait_for_timeout(1100)
    page.evaluate("() => document.activeElement.blur()")
    page.keyboard.type("jksn/'?19,5\r", delay=5)
    tray = page.locator("#tray li")
    expect(tray).to_have_count(4)
    expect(tray.first).to_contain_text("Typed while no field was ready: 63.41")
    expect(tray.last).to_contain_text("jksn/'?19,5")
    sheet.refresh_from_db()
    assert not sheet.is_sealed
    assert SheetReading.objects.count() == taken
    page.reload()
    expect(tray).to_have_count(4)
    open_tray(page)
    tray.first.get_by_role(
        "button", name="Take it as: Width over the tyres, rear"
    ).click()
    expect(page.locator("#step-width_rear")).to_contain_text("63.41")
    for _ in range(3):
        tray.first.get_by_role("button", name="Drop it").click()
    expect(page.locator("#tray")).to_be_hidden()
    assert unsent(page) == 0


def test_what_is_typed_before_the_page_is_ready_waits_in_the_tray(
    page_of: Visitor, numbers: Club
) -> None:
    sheet = race_night.make_sheet(numbers)
    page = page_of(numbers.anna)
    waiting: list[Route] = []
    page.route("**/block*.js", lambda route: waiting.append(route))  # noqa: PLW0108  playwright calls no builtin
    page.goto(f"/sheet/{sheet.number}/block", wait_until="commit")
    expect(page.locator("#bench-ask")).to_be_visible()
    page.keyboard.type("16.20\r20.41\r")
    page.wait_for_timeout(100)
    waiting[0].continue_()
    expect(page.locator("#tray li")).to_have_count(2)
    expect(page.locator("#tray li").first).to_contain_text("16.20")
    assert not SheetReading.objects.exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        # K8: an azerty keyboard's upper row, unshifted.
        ("é&:çè", "keyboard"),
        ("12.3.4", "12.3.4"),
        ("1e309", "1e309"),
        ("20.4l", "20.4l"),
        ("-20.41", "cannot be right (40 to 90 mm)"),
        ("9" * 200, "9999"),
        ("<b>20</b>", "<b>20</b>"),
    ],
)
def test_what_is_no_reading_is_held_as_typed_with_its_sentence(
    page_of: Visitor, club: Club, typed: str, says: str
) -> None:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = page_of(club.anna)
    open_block(page, sheet)
    before = SheetReading.objects.count()
    page.keyboard.insert_text(typed)
    page.keyboard.press("Enter")
    held = page.locator("#tray li")
    expect(held).to_contain_text(says)
    open_tray(page)
    expect(held.get_by_label("Reading, corrected")).to_have_value(typed)
    assert SheetReading.objects.count() == before
    # The bench went on meanwhile, and the corrected one goes to its own step.
    expect(page.locator("#bench-ask")).to_have_text("Width over the tyres, front")
    held.get_by_label("Reading, corrected").fill("63,41")
    held.get_by_role("button", name="Use the figure in the box").click()
    expect(page.locator("#step-width_rear")).to_contain_text("63.41 mm")
    expect(page.locator("#tray")).to_be_hidden()
