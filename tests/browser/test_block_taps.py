"""One tap, one answer: what comes too soon was not meant for what has appeared."""

import time

import pytest
from playwright.sync_api import Locator, Page, Request, Route, expect

from inspection.models import Sheet, SheetReading
from tests.browser import race_night
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import (
    READING_MS,
    asked,
    open_block,
    open_tray,
    type_by_the_clock,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club

# Two taps of one finger: the quickest, the usual, the slowest that a touch screen
# takes for one gesture (common practice, no source).
GAPS_MS = (80, 150, 300)
LOOKS = ("motor_sealed", "lights_work", "driver_and_interior")


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def sheet(club: Club) -> Sheet:
    return race_night.make_sheet(club)


def middle_of(target: Locator) -> tuple[float, float]:
    target.scroll_into_view_if_needed()
    box = target.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def tap_twice(page: Page, target: Locator, *, gap_ms: float) -> None:
    """
    Tap one place of the glass twice; each tap carries the time of the finger.

    The second is never later than said, however slow this machine is.
    """
    x, y = middle_of(target)
    session = page.context.new_cdp_session(page)
    start = time.time()
    for n in range(2):
        page.wait_for_timeout(max(0, (start - time.time()) * 1000 + n * gap_ms))
        when = start + n * gap_ms / 1000
        session.send(
            "Input.dispatchTouchEvent",
            {
                "type": "touchStart",
                "touchPoints": [{"x": x, "y": y}],
                "timestamp": when,
            },
        )
        session.send(
            "Input.dispatchTouchEvent",
            {"type": "touchEnd", "touchPoints": [], "timestamp": when + 0.02},
        )
    session.detach()


def on_a_phone(page_of: Visitor, club: Club, sheet: Sheet) -> Page:
    page = page_of(club.anna, viewport=PHONE, touch=True)
    open_block(page, sheet)
    return page


def columns_read() -> list[str]:
    return list(SheetReading.objects.order_by("id").values_list("column", flat=True))


@pytest.mark.parametrize("gap_ms", GAPS_MS)
def test_double_tap_on_yes_answers_one_question(
    page_of: Visitor, club: Club, sheet: Sheet, gap_ms: float
) -> None:
    page = on_a_phone(page_of, club, sheet)
    for n, column in enumerate(LOOKS):
        tap_twice(page, page.get_by_role("button", name="Yes"), gap_ms=gap_ms)
        wait_until_sent(page)
        expect(page.locator(f"#step-{column}")).to_contain_text("yes")
        assert columns_read() == list(LOOKS[: n + 1])
        page.wait_for_timeout(READING_MS)


@pytest.mark.parametrize("gap_ms", GAPS_MS)
def test_double_tap_on_it_goes_answers_the_rear_and_not_the_front(
    page_of: Visitor, club: Club, sheet: Sheet, gap_ms: float
) -> None:
    race_night.take(club, sheet, dict.fromkeys(LOOKS, "yes"))
    page = on_a_phone(page_of, club, sheet)
    tap_twice(page, page.get_by_role("button", name="It goes"), gap_ms=gap_ms)
    wait_until_sent(page)
    expect(page.locator("#step-clearance_rear")).to_contain_text("≥ 1.00")
    expect(page.locator("#bench-ask")).to_have_text("Chassis clearance, front")
    assert columns_read() == [*LOOKS, "clearance_rear"]
    # Whoever has read what is asked next answers it with one tap.
    page.wait_for_timeout(READING_MS)
    page.get_by_role("button", name="It goes").tap()
    expect(page.locator("#step-clearance_front")).to_contain_text("≥ 0.80")


@pytest.mark.parametrize("gap_ms", GAPS_MS)
def test_double_tap_that_takes_a_figure_does_not_answer_what_follows_it(
    page_of: Visitor, club: Club, sheet: Sheet, gap_ms: float
) -> None:
    last = list(GOOD)[-1]
    rest = {column: text for column, text in GOOD.items() if column != last}
    rest.pop("motor_sealed")
    race_night.take(club, sheet, rest)
    page = on_a_phone(page_of, club, sheet)
    page.get_by_role("button", name="Later").tap()
    page.locator("#id_text").fill(GOOD[last])
    tap_twice(page, page.get_by_role("button", name="Take it"), gap_ms=gap_ms)
    wait_until_sent(page)
    assert columns_read() == [*rest, last]
    assert asked(page) == "Motor sealed"


def test_figures_and_their_enter_are_kept_while_answers_do_nothing(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = on_a_phone(page_of, club, sheet)
    page.get_by_role("button", name="Yes").tap()
    type_by_the_clock(page, [*"-19.5", "Enter"], gap_s=0.005, start=time.time())
    tray = page.locator("#tray li")
    expect(tray).to_contain_text("-19.5")
    expect(page.locator("#step-motor_sealed")).to_contain_text("yes")
    assert columns_read() == ["motor_sealed"]
    open_tray(page)
    tray.get_by_role("button", name="Drop it").tap()
    expect(page.locator("#tray")).to_be_hidden()


PRESS_AT_ONCE = """() => new MutationObserver((_, watch) => {
  const answer = document.querySelector("#tray .held-right");
  if (!answer) { return; }
  watch.disconnect();
  answer.click();
}).observe(document.querySelector("#tray-list"), { childList: true })"""


def test_question_that_appears_under_a_finger_is_not_answered_by_it(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    page = on_a_phone(page_of, club, sheet)
    page.evaluate(PRESS_AT_ONCE)
    page.locator("#id_text").fill("6341")
    page.get_by_role("button", name="Take it").tap()
    held = page.locator("#tray li")
    expect(held).to_contain_text("Did the gauge show 63.41?")
    assert "width_rear" not in columns_read()
    open_tray(page)
    held.get_by_role("button", name="Keep 6341").tap()
    expect(page.locator("#step-width_rear")).to_contain_text("6341")


def test_answer_to_another_step_is_refused_and_kept(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    def as_of_another_step(route: Route, request: Request) -> None:
        body = (request.post_data or "").replace(
            "shown=motor_sealed", "shown=lights_work"
        )
        route.continue_(post_data=body)

    page = on_a_phone(page_of, club, sheet)
    page.route("**/reading", as_of_another_step)
    page.get_by_role("button", name="Yes").tap()
    held = page.locator("#tray li")
    expect(held).to_contain_text("is not taken: the answer was given while the page")
    assert columns_read() == []
    page.unroute("**/reading")
    open_tray(page)
    held.get_by_role("button", name="Use the figure in the box").tap()
    expect(page.locator("#step-motor_sealed")).to_contain_text("yes")
