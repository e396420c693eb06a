"""Two scrutineers at one tablet: what is in the field and in the queue stays."""

import pytest
from playwright.sync_api import Page, expect

from inspection.actions.rulings.protests import measure_again, raise_protest
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision
from inspection.models import Sheet, SheetReading
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders
from tests.browser import race_night
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import (
    assert_accessible,
    open_block,
    scrolls_sideways,
    wait_until_sent,
)
from tests.browser.race_night import GOOD, Club

PASSWORD = "a long and quiet evening"
FIRST, SECOND, THIRD = "width_rear", "width_front", "weight_car"


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


@pytest.fixture
def dora(club: Club) -> Person:
    return builders.make_person(Role.SCRUTINEER, name="Dora Fell", password=PASSWORD)


@pytest.fixture
def sheet(club: Club) -> Sheet:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, dict(list(GOOD.items())[:5]))
    return sheet


def hand_over(page: Page, who: Person, secret: str) -> None:
    fold = page.locator("#take-over")
    fold.locator("summary").click()
    fold.get_by_label("Who goes on here").select_option(str(who.pk))
    fold.get_by_label("Their password").fill(secret)
    fold.get_by_role("button", name="Take over").click()


def read_by() -> dict[str, str]:
    rows = SheetReading.objects.filter(column__in=[FIRST, SECOND, THIRD])
    return dict(rows.values_list("column", "by__name"))


def test_code_from_the_other_phone_and_the_field_stays(
    page_of: Visitor, club: Club, sheet: Sheet, dora: Person
) -> None:
    phone = page_of(dora, viewport=PHONE, touch=True)
    phone.goto("/")
    phone.get_by_role("link", name="Code for another device").tap()
    phone.get_by_role("button", name="Show a code").tap()
    code = phone.locator(".take-over-code").inner_text()
    assert not scrolls_sideways(phone)
    assert_accessible(phone)
    page = page_of(club.anna)
    open_block(page, sheet)
    page.keyboard.type("63.41\r58.")
    wait_until_sent(page)
    hand_over(page, dora, "111111" if code != "111111" else "222222")
    expect(page.locator("#take-over-error")).to_contain_text("neither the password")
    expect(page.locator(".person:visible")).to_contain_text("Anna Quill")
    assert_accessible(page)
    page.get_by_label("Their password").fill(code)
    page.get_by_role("button", name="Take over").click()
    expect(page.locator(".person:visible")).to_contain_text("Dora Fell")
    expect(page.locator("#id_text")).to_have_value("58.")
    expect(page.locator("#id_text")).to_be_focused()
    page.keyboard.press("End")
    page.keyboard.type("11\r")
    wait_until_sent(page)
    assert read_by() == {FIRST: "Anna Quill", SECOND: "Dora Fell"}


def test_what_waits_stays_the_first_persons(
    page_of: Visitor, club: Club, sheet: Sheet, dora: Person
) -> None:
    page = page_of(club.anna)
    page.on("dialog", lambda dialog: dialog.accept())
    open_block(page, sheet)
    page.route("**/reading", lambda route: route.abort("internetdisconnected"))
    page.keyboard.type("63.41\r58.11\r")
    hand_over(page, dora, PASSWORD)
    expect(page.locator(".person:visible")).to_contain_text("Dora Fell")
    tray = page.locator("#tray li")
    expect(tray).to_have_count(2)
    expect(tray.first).to_contain_text("Taken under another sign-in on this device")
    page.unroute("**/reading")
    page.locator("#id_text").focus()
    page.keyboard.type("98.3\r")
    expect(page.locator("#step-weight_car")).to_contain_text("98.3")
    assert read_by() == {THIRD: "Dora Fell"}
    # The first person is back, and what waited goes in their name.
    Person.objects.get(pk=club.anna.pk)
    club.anna.set_password(PASSWORD)
    club.anna.save()
    hand_over(page, club.anna, PASSWORD)
    expect(page.locator(".person:visible")).to_contain_text("Anna Quill")
    expect(page.locator("#tray")).to_be_hidden()
    wait_until_sent(page)
    assert read_by() == {
        FIRST: "Anna Quill",
        SECOND: "Anna Quill",
        THIRD: "Dora Fell",
    }


def test_gauge_of_a_protested_sheet_is_not_chosen_though_the_device_remembers_it(
    page_of: Visitor, transactional_db: None
) -> None:
    club = race_night.make_club([builders.rule("1", "weight_car", lower=80)])
    scale = club.gauges["scale"]
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, {"weight_car": "98.3"})
    act = race_night.now(club.anna)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=act)
    of = sheet.edition.rules.get(number="1")
    raised = raise_protest(sheet.entry_id, of, claim="it looked lighter", act=act)
    again = measure_again(raised.pk, act=race_night.now(club.chief))
    other = race_night.checked_gauge(Instrument.SCALE, Unit.GRAM)
    page = page_of(club.bert)
    page.add_init_script(
        "localStorage.setItem('feelerbook-gauges',"
        f" JSON.stringify({{scale: {scale.gauge_id}}}))"
    )
    open_block(page, again)
    gauge = page.locator("#id_gauge")
    expect(gauge).to_have_value(str(other.pk))
    expect(gauge.locator("option")).to_have_count(2)
    expect(page.locator("#bench-gauge-not")).to_contain_text(scale.gauge.name)
    page.keyboard.type("97.9\r")
    expect(page.locator("#step-weight_car")).to_contain_text("97.9")
