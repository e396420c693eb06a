"""The block for everybody: goals U1 to U12 and W3, on a phone and at a desk."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from inspection.models import Sheet, SheetReading
from tests.browser import race_night
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import (
    answer,
    assert_accessible,
    open_block,
    open_folds,
    scrolls_sideways,
    seal,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club

NARROW = {"width": 320, "height": 640}
FAILING = {**GOOD, "clearance_rear": "no", "width_rear": "64.20"}
#: SC 1.4.12: nothing may be lost under these.
TEXT_SPACING = """
* { line-height: 1.5 !important; letter-spacing: .12em !important;
    word-spacing: .16em !important; }
p { margin-bottom: 2em !important; }
"""


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def sheet(club: Club) -> Sheet:
    return race_night.make_sheet(club)


def fill_tray(page: Page) -> None:
    page.keyboard.type("6341\r")
    expect(page.locator("#tray li")).to_have_count(1)
    page.evaluate("() => document.activeElement.blur()")
    page.keyboard.type("19.5\r")
    expect(page.locator("#tray li")).to_have_count(2)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_finds_nothing_empty_full_and_in_trouble(
    page_of: Visitor, club: Club, sheet: Sheet, viewport: dict[str, int], scheme: Any
) -> None:
    """U1."""
    page = page_of(club.anna, viewport=viewport)
    page.emulate_media(color_scheme=scheme)
    open_block(page, sheet)
    assert_accessible(page)
    race_night.take(club, sheet, dict(list(FAILING.items())[:5]))
    open_block(page, sheet)
    fill_tray(page)
    open_folds(page)
    # A colour on its way to another is no contrast to judge.
    page.wait_for_timeout(1600)
    assert_accessible(page)
    race_night.take(club, sheet, dict(list(FAILING.items())[5:]))
    open_block(page, sheet)
    assert_accessible(page)


def small_targets(page: Page, least: int) -> list[str]:
    """Give what can be pressed and is smaller, links inside a sentence apart."""
    found: list[str] = page.evaluate(
        """least => Array.from(document.querySelectorAll(
            "main :is(a, button, select, summary, input:not([type=hidden]))"))
          .filter(e => e.checkVisibility() && !e.closest("p.page-facts, p.message"))
          .map(e => [e, (e.closest("label") || e).getBoundingClientRect()])
          .filter(([e, box]) => Math.min(box.width, box.height) < least - 0.5)
          .map(([e, box]) => `${e.outerHTML.slice(0, 80)} ${box.width}x${box.height}`)
        """,
        least,
    )
    return found


@pytest.mark.parametrize("viewport", [NARROW, PHONE, DESK])
def test_targets_are_large_enough_for_a_thumb(
    page_of: Visitor, club: Club, sheet: Sheet, viewport: dict[str, int]
) -> None:
    """U2: 44 px on the page of a scrutineer, 56 px for what it is for."""
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = page_of(club.anna, viewport=viewport)
    open_block(page, sheet)
    fill_tray(page)
    assert small_targets(page, 44) == []
    for primary in page.locator("main .primary:visible").all():
        box = primary.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 56
    # All folds open: the reasons for striking, the carried readings.
    open_folds(page)
    assert small_targets(page, 44) == []


@pytest.mark.parametrize(
    "style", [TEXT_SPACING, "html { font-size: 200% }"], ids=["spaced", "large"]
)
def test_nothing_is_lost_at_320_px_with_large_or_spaced_text(
    page_of: Visitor, club: Club, sheet: Sheet, style: str
) -> None:
    """U9."""
    race_night.take(club, sheet, dict(list(FAILING.items())[:12]))
    page = page_of(club.anna, viewport=NARROW)
    open_block(page, sheet)
    page.keyboard.type("6341\r")
    expect(page.locator("#tray li")).to_have_count(1)
    open_folds(page)
    page.evaluate(
        """style => { const sheet = new CSSStyleSheet(); sheet.replaceSync(style);
          document.adoptedStyleSheets = [sheet]; }""",
        style,
    )
    assert page.evaluate("() => document.adoptedStyleSheets.length") == 1
    assert not scrolls_sideways(page)
    cut = page.evaluate(
        """() => Array.from(document.querySelectorAll("main *"))
          .filter(e => e.checkVisibility() && !e.closest("svg, .visually-hidden"))
          .filter(e => getComputedStyle(e).overflowX !== "visible"
                       && e.scrollWidth > e.clientWidth + 1)
          .map(e => e.outerHTML.slice(0, 100))"""
    )
    assert [html for html in cut if "table-frame" not in html] == []


def test_outcome_is_told_in_words_and_announced_without_moving_the_focus(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """U4 and U5: role=status for a pass, role=alert for a fail."""
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("64.30\r")
    alert = page.get_by_role("alert").filter(has_text="3.4 fail, 0.30 mm outside")
    expect(alert).to_have_count(1)
    expect(page.locator("#id_text")).to_be_focused()
    page.keyboard.type("58.11\r98.3\r")
    status = page.get_by_role("status").filter(has_text="4.2 pass, 18.3 g to spare")
    expect(status).to_have_count(1)
    expect(page.locator("#id_text")).to_be_focused()


def test_error_names_its_field_keeps_what_was_typed_and_suggests(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """U6, where a page without script says it."""
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = scriptless(page_of, club)
    page.goto(f"/sheet/{sheet.number}/block")
    page.locator("#id_text").fill("63.4l")
    page.get_by_role("button", name="Take it").click()
    field = page.locator("#id_text")
    expect(field).to_have_value("63.4l")
    expect(field).to_have_attribute("aria-invalid", "true")
    described = field.get_attribute("aria-describedby") or ""
    assert "bench-error" in described.split()
    expect(page.locator("#bench-error")).to_contain_text("63.4l")
    assert not SheetReading.objects.filter(column="width_rear").exists()


def test_focus_goes_with_the_steps_and_is_never_lost(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """U7: buttons and figures in the order of the checks, a fold that is swapped."""
    page = page_of(club.anna, viewport={"width": 360, "height": 640})
    open_block(page, sheet)
    focused = page.locator("*:focus")
    for _ in range(3):
        expect(focused).to_contain_text("Yes")
        answer(page)
    expect(focused).to_contain_text("It goes")
    answer(page)
    answer(page)
    expect(page.locator("#id_text")).to_be_focused()
    assert in_view(page)
    # A fold with the focus in it is swapped when another's reading arrives.
    fold = page.locator("#step-width_rear a, #step-width_rear summary")
    fold.focus()
    race_night.take(club, sheet, {"width_rear": "63.41"}, by=club.bert)
    expect(page.locator("#step-width_rear")).to_contain_text("63.41", timeout=9_000)
    expect(page.locator("#step-width_rear-fold")).to_be_focused()


def in_view(page: Page) -> bool:
    seen: bool = page.evaluate(
        """() => { const box = document.activeElement.getBoundingClientRect();
          return box.top >= 0 && box.bottom <= innerHeight; }"""
    )
    return seen


def test_open_fold_stays_open_when_a_reading_changes_it(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, dict(list(GOOD.items())[:8]))
    page = page_of(club.anna)
    open_block(page, sheet)
    page.locator("#rear-view-fold").click()
    page.locator("#id_text").focus()
    page.keyboard.type("20.41\r")
    expect(page.locator("#rear-view")).to_contain_text("Left rear tyre 20.41 mm.")
    assert page.locator("#rear-view details").evaluate("d => d.open")


def test_letters_are_no_shortcuts(page_of: Visitor, club: Club, sheet: Sheet) -> None:
    """U12: a caliper types characters."""
    page = page_of(club.anna)
    open_block(page, sheet)
    page.evaluate("() => document.activeElement.blur()")
    page.keyboard.type("abcdefghijklmnopqrstuvwxyzYN/?0123456789")
    page.wait_for_timeout(300)
    assert page.url.endswith(f"/sheet/{sheet.number}/block")
    assert not SheetReading.objects.exists()
    expect(page.locator("#bench-ask")).to_have_text("Motor sealed")


def test_answers_change_the_page_for_whoever_looks_at_the_bench(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """The picture and the way to take it stand beside what is asked."""
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = page_of(club.anna)
    open_block(page, sheet)
    picture = page.locator("#bench-picture svg")
    expect(picture).to_have_attribute("aria-label", "Width over the tyres, rear")
    page.keyboard.type("63.41\r58.11\r")
    expect(picture).to_have_attribute("aria-label", "Weight, ready to race")
    expect(page.locator("#bench-how")).not_to_be_empty()
    # Of what the page does not ask by itself, it fetches the picture.
    page.locator("#step-clearance_gear a").click()
    expect(page.locator("#bench-ask")).to_have_text("Gear to track")
    expect(picture).to_have_attribute("aria-label", "Gear to track")
    wait_until_sent(page)


def scriptless(page_of: Visitor, club: Club) -> Page:
    """Open a browser that runs no script."""
    return page_of(club.anna, script=False)


def test_car_is_taken_and_sealed_by_plain_forms(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """W3."""
    page = scriptless(page_of, club)
    page.goto(f"/sheet/{sheet.number}/block")
    for column, text in GOOD.items():
        if column == "weight_car":
            page.locator("#id_text").fill("983")
            page.get_by_role("button", name="Take it").click()
            expect(page.locator("#question")).to_contain_text(
                "Did the gauge show 98.3?"
            )
            page.get_by_role("button", name="It was 98.3").click()
        elif text == "yes":
            words = "It goes" if column.startswith("clearance") else "Yes"
            page.get_by_role("button", name=words).click()
        else:
            page.locator("#id_text").fill(text)
            page.keyboard.press("Enter")
        expect(page.locator(f"#step-{column} details")).to_be_attached()
    assert [r.column for r in SheetReading.objects.order_by("id")] == list(GOOD)
    page.locator("#step-weight_car summary").click()
    strike = page.locator("#step-weight_car form")
    strike.get_by_role("button", name="misread").click()
    expect(page.locator("#step-weight_car")).to_contain_text("struck by Anna Quill")
    page.locator("#id_text").fill("98,3")
    page.keyboard.press("Enter")
    seal(page, "Seal: passed")
    expect(page.locator(".record-decision")).to_contain_text("Passed")
