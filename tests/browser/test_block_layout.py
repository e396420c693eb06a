"""Field, verdict, seal and drawing in one view; and a field that never moves."""

from dataclasses import replace

import pytest
from playwright.sync_api import Page, expect

from inspection.compute.rulebooks import Evidence
from inspection.models import Sheet, SheetReading
from tests.browser import race_night
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import (
    READING_MS,
    open_block,
    open_tray,
    scrolls_sideways,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, RULES, Club

#: What must be in view without scrolling, by the size of the window.
IN_VIEW = {
    (1280, 800): ("#id_text", "#verdict", "#sealing-open", "#rear-view > svg"),
    (1024, 768): ("#id_text", "#verdict", "#sealing-open", "#rear-view > svg"),
    (768, 1024): ("#id_text", "#verdict", "#sealing-open"),
    # A desk enlarged to twice its size is half as wide.
    (640, 400): ("#id_text",),
    (390, 844): ("#id_text", "#verdict", "#sealing-open"),
    # A phone with its keyboard up.
    (390, 480): ("#id_text", "#verdict"),
}
# A flick of a thumb moves a page by two thirds of it and more (common practice, no
# source).
FLICK = 2 / 3
LEAST_LETTERS = """() => Math.min(...Array.from(
  document.querySelectorAll("#rear-view > svg text"), text => {
    const svg = text.ownerSVGElement;
    const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    return parseFloat(getComputedStyle(text).fontSize) * scale;
  }))"""


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def failing(club: Club) -> Sheet:
    """Give a car that is too wide, its weight and its tyres not read yet."""
    sheet = race_night.make_sheet(club)
    race_night.take(
        club, sheet, {**dict(list(GOOD.items())[:5]), "width_rear": "64.20"}
    )
    return sheet


def box_of(page: Page, place: str) -> dict[str, float]:
    box = page.locator(place).bounding_box()
    assert box is not None, place
    return {"top": box["y"], "bottom": box["y"] + box["height"]}


def test_what_is_needed_at_once_is_in_one_view(
    page_of: Visitor, club: Club, failing: Sheet
) -> None:
    page = page_of(club.anna)
    for (width, height), places in IN_VIEW.items():
        page.set_viewport_size({"width": width, "height": height})
        open_block(page, failing)
        assert page.evaluate("scrollY") == 0
        boxes = {place: box_of(page, place) for place in places}
        for place, box in boxes.items():
            assert box["top"] >= 0, (width, height, place)
            assert box["bottom"] <= height + 0.5, (width, height, place)
        # The verdict lies over nothing of the field.
        if "#verdict" in boxes:
            assert boxes["#id_text"]["bottom"] <= boxes["#verdict"]["top"]
        assert not scrolls_sideways(page)
        expect(page.locator(".verdict-what")).to_contain_text("3.4")
    page.set_viewport_size({"width": 390, "height": 844})
    open_block(page, failing)
    page.evaluate(f"scrollBy(0, {FLICK} * innerHeight)")
    verdict, drawing = box_of(page, "#verdict"), box_of(page, "#rear-view > svg")
    assert drawing["top"] >= 0
    assert drawing["bottom"] <= verdict["top"]
    assert page.evaluate(LEAST_LETTERS) >= 12
    # It never scrolls away.
    page.evaluate("document.getElementById('readings-head').scrollIntoView()")
    assert box_of(page, "#sealing-open")["bottom"] <= 844


@pytest.mark.parametrize("size", [(390, 844), (1280, 800)], ids=["phone", "desk"])
def test_question_asks_under_the_field_which_never_moves_and_counts_for_nothing(
    page_of: Visitor, club: Club, failing: Sheet, size: tuple[int, int]
) -> None:
    page = page_of(club.anna, viewport={"width": size[0], "height": size[1]})
    open_block(page, failing)
    before = box_of(page, "#id_text")["top"]
    step = page.locator("#bench-step")
    expect(step).to_have_text("6 of 16 measured")
    page.keyboard.type("5811\r")
    question = page.locator("#tray-head")
    expect(question).to_contain_text("was it 58.11?")
    expect(question).to_be_visible()
    assert box_of(page, "#id_text")["top"] == before
    expect(step).to_have_text("6 of 16 measured")
    field, asks = box_of(page, "#id_text"), box_of(page, "#tray-head")
    assert asks["top"] >= field["bottom"]
    assert asks["bottom"] <= box_of(page, "#verdict")["top"]
    # It opens on a tap, over what is below, and the field stays.
    open_tray(page)
    assert box_of(page, "#id_text")["top"] == before
    assert box_of(page, "#tray-list")["bottom"] <= box_of(page, "#verdict")["top"] or (
        size[0] > 390
    )
    page.get_by_role("button", name="It was 58.11").click()
    wait_until_sent(page)
    expect(step).to_have_text("7 of 16 measured")
    assert box_of(page, "#id_text")["top"] == before
    assert SheetReading.objects.get(column="width_front").text == "58.11"


def test_looks_are_answered_by_one_key_while_they_are_asked(
    page_of: Visitor, club: Club
) -> None:
    sheet = race_night.make_sheet(club)
    page = page_of(club.anna)
    open_block(page, sheet)
    for key in ("y", "Y", "n"):
        page.keyboard.press(key)
        page.wait_for_timeout(READING_MS)
    wait_until_sent(page)
    rows = SheetReading.objects.order_by("pk").values_list("column", "text")
    assert list(rows) == [
        ("motor_sealed", "yes"),
        ("lights_work", "yes"),
        ("driver_and_interior", "no"),
    ]
    # A slip goes or stops.
    page.keyboard.press("g")
    wait_until_sent(page)
    expect(page.locator("#step-clearance_rear")).to_contain_text("≥ 1.00")
    failing = page.locator(".rules-group[data-group=fails] li")
    expect(failing).to_have_count(1)
    expect(failing).to_contain_text("must be yes")


def test_rule_says_where_its_value_comes_from_and_what_would_decide_it(
    page_of: Visitor, club: Club, failing: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, failing)
    wide = page.locator("#rules li", has_text="3.4")
    expect(wide.locator(".rule-name")).to_contain_text("read now")
    waits = page.locator(".rules-group[data-group=unknown] li", has_text="4.2")
    expect(waits.locator(".rule-name")).to_contain_text("needs weight")
    # The sentence opens in place, and moves under its heading when it is decided.
    waits.locator("summary").click()
    expect(waits.locator(".rule-open")).to_be_visible()
    expect(wide.locator("svg.strip .s-refused")).to_have_count(1)
    page.locator("#id_text").focus()
    page.keyboard.type("58.11\r98.3\r")
    weight = page.locator(".rules-group[data-group=holds] li", has_text="4.2")
    expect(weight.locator(".rule-value")).to_contain_text("18.3 g to spare")
    expect(weight.locator(".rule-open")).to_be_visible()


def test_looks_that_the_edition_marks_so_are_answered_by_one_tap(
    transactional_db: None, page_of: Visitor
) -> None:
    rules = [
        replace(rule, evidence=Evidence.AT_ONCE) if rule.required else rule
        for rule in RULES
    ]
    club = race_night.make_club(rules)
    sheet = race_night.make_sheet(club)
    page = page_of(club.anna, viewport=PHONE, touch=True)
    open_block(page, sheet)
    expect(page.locator("#bench-all-words")).to_have_text(
        "Motor sealed, Lights work, Driver and interior"
    )
    page.get_by_role("button", name="All as they should be").tap()
    wait_until_sent(page)
    rows = SheetReading.objects.order_by("pk").values_list("column", "answer")
    assert dict(rows) == dict.fromkeys(
        ("motor_sealed", "lights_work", "driver_and_interior"), "yes"
    )
    expect(page.locator("#bench-ask")).to_have_text("Chassis clearance, rear")
    expect(page.locator("#bench-all")).to_be_hidden()
