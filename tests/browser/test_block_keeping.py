"""Nothing typed is lost: questions, refusals, no network, no session, a reload."""

import datetime as dt
from urllib.parse import urljoin

import pytest
from django.utils import timezone
from playwright.sync_api import Page, Route, expect

from inspection.models import Sheet, SheetReading
from inventory.compute.measuring.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.numbers.units import Unit
from inventory.models import Gauge, OpenSession, Person
from tests import builders
from tests.browser import race_night
from tests.browser.conftest import Visitor, session_cookie
from tests.browser.hands import (
    UNSENT,
    open_block,
    open_tray,
    send_back_by_word,
    unsent,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def sheet(club: Club) -> Sheet:
    """Give a sheet on which the figures off the caliper come next."""
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    return sheet


def texts(column: str) -> list[str]:
    rows = SheetReading.objects.filter(column=column).order_by("id")
    return list(rows.values_list("text", flat=True))


def test_slip_of_the_decimal_is_asked_and_the_suggestion_taken(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("6341\r58.11\r")
    held = page.locator("#tray li")
    expect(held).to_contain_text(
        "6341 cannot be right (40 to 90 mm). Did the gauge show 63.41?"
    )
    expect(page.locator("#alarm")).to_contain_text("Did the gauge show 63.41?")
    expect(page.locator("#rules li", has_text="3.4")).to_contain_text("Not measured")
    wait_for_text(page, "#step-width_front", "58.11")
    assert texts("width_rear") == []
    expect(page.locator("#tray-head")).to_contain_text("6341: was it 63.41?")
    open_tray(page)
    held.get_by_role("button", name="It was 63.41").click()
    expect(page.locator("#step-width_rear")).to_contain_text("63.41 mm")
    assert texts("width_rear") == ["63.41"]


def test_strange_reading_that_is_right_is_taken_and_marked_as_asked_about(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("6341\r")
    # What is held outlives a reload.
    expect(page.locator("#tray li")).to_have_count(1)
    page.reload()
    held = open_tray(page)
    held.get_by_role("button", name="Keep 6341").click()
    expect(page.locator("#step-width_rear")).to_contain_text("6341")
    assert SheetReading.objects.get(column="width_rear").was_asked_about


def test_dropped_reading_leaves_its_step_to_be_taken(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    race_night.take(club, sheet, dict(list(GOOD.items())[6:]))
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("6341\r")
    # Nothing counts that is not on the sheet.
    expect(page.locator("#bench-ask")).to_contain_text("1 not on the sheet yet")
    open_tray(page).get_by_role("button", name="Drop it").click()
    expect(page.locator("#bench-ask")).to_have_text("Width over the tyres, rear")
    expect(page.locator("#id_text")).to_be_focused()
    assert unsent(page) == 0


def test_gauge_barred_since_is_refused_with_its_sentence_and_offered_no_more(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    overdue = builders.make_gauge(
        check_every_days=30, at=timezone.now() - dt.timedelta(days=29)
    )
    page = page_of(club.anna)
    open_block(page, sheet)
    choice = page.get_by_label("Gauge", exact=True)
    choice.select_option(str(overdue.pk))
    # Its month ends while the page is open.
    Gauge.objects.filter(pk=overdue.gauge_id).update(check_every_days=28)
    page.locator("#id_text").focus()
    page.keyboard.type("63.41\r")
    held = page.locator("#tray li")
    expect(held).to_contain_text(f"{overdue.gauge}: check overdue; check it against")
    assert texts("width_rear") == []
    open_tray(page)
    held.get_by_label("Gauge").select_option(str(club.gauges["caliper"].pk))
    held.get_by_role("button", name="Use the figure in the box").click()
    expect(page.locator("#step-width_rear")).to_contain_text("63.41 mm")
    page.reload()
    expect(page.locator("#bench-gauge-not")).to_have_text(
        f"Not offered: {overdue.gauge} (check overdue)."
    )
    expect(choice.locator(f"option[value='{overdue.pk}']")).to_have_count(0)


def test_gauge_without_a_check_tonight_is_warned_about_and_remembered(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """U8 and Q6: chosen once an evening; the warning is on the screen and the sheet."""
    unchecked = builders.make_gauge(at=timezone.now() - dt.timedelta(days=2))
    page = page_of(club.anna)
    open_block(page, sheet)
    page.get_by_label("Gauge", exact=True).select_option(str(unchecked.pk))
    page.locator("#id_text").focus()
    note = page.locator("#bench-gauge-note")
    for text in ("63.41", "58.11"):
        expect(note).to_contain_text("No check tonight at zero and at about 20 mm")
        page.keyboard.type(f"{text}\r")
    wait_until_sent(page)
    other = race_night.make_sheet(club)
    race_night.take(club, other, dict(list(GOOD.items())[:5]))
    open_block(page, other)
    expect(page.locator("#id_gauge")).to_have_value(str(unchecked.pk))
    page.goto(f"/sheet/{sheet.number}")
    row = page.locator(".record-readings tr", has_text="63.41")
    expect(row).to_contain_text("no check that evening")


def test_readings_wait_while_there_is_no_network_and_go_when_it_is_back(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.chief)
    open_block(page, sheet)
    page.context.set_offline(True)
    page.keyboard.type("63.41\r58.11\r98.3\r")
    line = page.locator("#line")
    expect(line).to_contain_text("3 readings waiting to be sent.")
    expect(page.locator("#bench-ask")).to_have_text("Tyre diameter, rear, left")
    # Sealing waits for them.
    send_back_by_word(page)
    expect(page.locator("#seal-error")).to_contain_text("3 readings are not on the")
    page.context.set_offline(False)
    wait_until_sent(page)
    expect(line).to_be_hidden()
    assert (texts("width_rear"), texts("weight_car")) == (["63.41"], ["98.3"])
    order = SheetReading.objects.order_by("id").values_list("column", flat=True)
    assert list(order)[-3:] == ["width_rear", "width_front", "weight_car"]


def test_reading_over_which_the_server_fails_is_set_aside_and_the_rest_goes_on(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    tries: list[str] = []

    def fail_over_one(route: Route) -> None:
        if "text=63.41" not in (route.request.post_data or ""):
            route.continue_()
            return
        tries.append(route.request.url)
        route.fulfill(status=599)

    page.route("**/reading", fail_over_one)
    page.keyboard.type("63.41\r58.11\r")
    wait_for_text(page, "#step-width_front", "58.11")
    held = page.locator("#tray li")
    expect(held).to_contain_text(
        "The server failed over this reading three times (599)"
    )
    assert len(tries) == 3
    assert (texts("width_rear"), unsent(page)) == ([], 1)
    page.unroute("**/reading")
    open_tray(page)
    held.get_by_role("button", name="Use the figure in the box").click()
    wait_until_sent(page)
    assert texts("width_rear") == ["63.41"]


SEND_NOW = """() => {
  const button = document.getElementById("line-send");
  const press = () => { if (button.checkVisibility()) { button.click(); } };
  setInterval(press, 100);
}"""


def test_nothing_is_set_aside_while_the_server_is_away(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    statuses = iter([503, 507, 502, 504, 503])

    def be_away(route: Route) -> None:
        if (status := next(statuses, None)) is None:
            route.continue_()
        else:
            route.fulfill(status=status)

    page.route("**/reading", be_away)
    page.keyboard.type("63.41\r58.11\r")
    expect(page.locator("#line-send")).to_be_visible()
    # It sends by itself too, so the button may be gone before the hand is there.
    page.evaluate(SEND_NOW)
    wait_until_sent(page)
    assert (texts("width_rear"), texts("width_front")) == (["63.41"], ["58.11"])
    expect(page.locator("#tray li")).to_have_count(0)


def test_reading_under_a_number_of_another_sheet_is_sent_under_its_own(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    other = race_night.make_sheet(club)
    page = page_of(club.anna)
    open_block(page, sheet)
    page.route("**/reading", lambda route: route.abort("internetdisconnected"))
    page.keyboard.type("63.41\r")
    page.wait_for_function(f"({UNSENT})() === 1")
    taken_id = page.evaluate(
        "() => Object.keys(localStorage).find(k => k.includes('-reading/')).slice(-36)"
    )
    gauge = club.gauges["caliper"]
    builders.read(other, "width_rear", "63.41", gauge=gauge, reading_id=taken_id)
    page.unroute("**/reading")
    page.locator("#line-send").click()
    held = page.locator("#tray li")
    expect(held).to_contain_text(f"Sheet {other} has a reading of this number already")
    open_tray(page)
    held.get_by_role("button", name="Use the figure in the box").click()
    wait_until_sent(page)
    assert sheet.readings.filter(column="width_rear").count() == 1


def test_unsent_reading_outlives_the_page_and_leaving_warns(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    page.route("**/reading", lambda route: route.abort("internetdisconnected"))
    page.keyboard.type("63.41\r")
    expect(page.locator("#line")).to_contain_text("1 reading waiting to be sent.")
    warned: list[str] = []

    def stay_or_go(dialog: object) -> None:
        warned.append(dialog.type)  # type: ignore[attr-defined]
        dialog.accept()  # type: ignore[attr-defined]

    page.on("dialog", stay_or_go)
    page.reload()
    assert warned == ["beforeunload"]
    assert unsent(page) == 1
    page.unroute("**/reading")
    page.reload()
    wait_until_sent(page)
    assert texts("width_rear") == ["63.41"]


def test_answer_lost_on_the_way_does_not_make_two_readings(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    open_block(page, sheet)
    lost: list[int] = []

    def lose_the_first_answer(route: object) -> None:
        answer = route.fetch()  # type: ignore[attr-defined]
        if lost:
            route.fulfill(response=answer)  # type: ignore[attr-defined]
            return
        lost.append(answer.status)
        route.abort("internetdisconnected")  # type: ignore[attr-defined]

    page.route("**/reading", lose_the_first_answer)
    page.keyboard.type("63.41\r")
    wait_until_sent(page)
    assert lost == [200]
    assert texts("width_rear") == ["63.41"]


def test_session_that_ends_mid_car_loses_nothing(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    """S14: what is taken meanwhile is kept and goes after signing in again."""
    page = page_of(club.anna)
    open_block(page, sheet)
    OpenSession.objects.all().delete()
    page.keyboard.type("63.41\r")
    line = page.locator("#line")
    expect(line).to_contain_text("You are signed out")
    address = line.get_by_role("link", name="Sign in again").get_attribute("href")
    assert address == f"/sign-in?next=/sheet/{sheet.number}/block"
    sign_in_as(page, club.anna)
    page.get_by_role("button", name="Send now").click()
    wait_until_sent(page)
    expect(line).to_be_hidden()
    assert texts("width_rear") == ["63.41"]


def test_reading_taken_under_another_sign_in_is_not_sent_as_ones_own(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    page = page_of(club.anna)
    page.on("dialog", lambda dialog: dialog.accept())
    open_block(page, sheet)
    page.route("**/reading", lambda route: route.abort("internetdisconnected"))
    page.keyboard.type("63.41\r")
    expect(page.locator("#line")).to_contain_text("1 reading waiting to be sent.")
    sign_in_as(page, club.bert)
    page.goto(f"/sheet/{sheet.number}/block")
    page.unroute("**/reading")
    held = page.locator("#tray li")
    expect(held).to_contain_text("Taken under another sign-in on this device")
    page.keyboard.type("58.11\r")
    expect(page.locator("#step-width_front")).to_contain_text("58.11")
    assert unsent(page) == 1
    assert texts("width_rear") == []


def test_gauge_of_another_unit_is_not_offered(
    page_of: Visitor, club: Club, sheet: Sheet
) -> None:
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    builders.check(scale.gauge, CheckResult.PASSED, kind=CheckKind.MASTER)
    page = page_of(club.anna)
    open_block(page, sheet)
    offered = page.locator("#id_gauge option").all_inner_texts()
    assert not any("scale" in words for words in offered)


def sign_in_as(page: Page, person: Person) -> None:
    page.context.add_cookies([session_cookie(person, urljoin(page.url, "/"))])


def wait_for_text(page: Page, place: str, words: str) -> None:
    expect(page.locator(place)).to_contain_text(words)
