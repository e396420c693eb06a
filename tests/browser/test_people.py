"""People let each other in: two browsers, a code on a screen, a phone's six digits."""

import re
import time
from base64 import b32decode

from playwright.sync_api import Page, expect

from inventory.models import Person
from tests import builders
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.browser.walks import scanned
from tests.conftest import PASSWORD
from tests.inventory.people.test_own_account import code_at

NEW = "nine slow carts roll by"


def look(page: Page) -> None:
    assert not scrolls_sideways(page), page.url
    assert_accessible(page)


def press(page: Page, name: str) -> None:
    with page.expect_navigation():
        page.locator("#main").get_by_role("button", name=name, exact=True).click()


def follow(page: Page, name: str) -> None:
    with page.expect_navigation():
        page.locator("#main").get_by_role("link", name=name, exact=True).click()


def sign_in(page: Page, name: str, password: str) -> None:
    page.get_by_label(re.compile("sign.in name", re.IGNORECASE)).fill(name)
    page.get_by_label("Password").fill(password)
    press(page, "Sign in")


def test_a_guest_takes_the_code_off_the_screen_and_later_a_new_password(
    page_of: Visitor,
) -> None:
    # Without script; with it, test_club_moves_in.py goes this way.
    desk = page_of(builders.make_admin(), script=False)
    desk.goto("/people")
    follow(desk, "Invite somebody")
    desk.get_by_label("Name", exact=True).fill("Ida Penn")
    desk.get_by_label("scrutineer", exact=True).check()
    press(desk, "Invite")
    phone = page_of(viewport=PHONE, script=False)
    address = scanned(desk)
    phone.goto(address)
    phone.get_by_label("Sign-in name").fill("ida")
    phone.get_by_label("Password").fill(PASSWORD)
    press(phone, "Join")
    expect(phone.get_by_role("heading", name="Tonight").first).to_be_visible()
    # The same code on another device: a sentence, and a way on.
    tablet = page_of(script=False)
    tablet.goto(address)
    expect(tablet.get_by_text("used once already")).to_be_visible()
    follow(tablet, "Sign in")
    # The password is forgotten: the admin hands over a link, in the hall.
    desk.goto("/people")
    follow(desk, "Ida Penn")
    press(desk, "Make a password link")
    tablet.goto(scanned(desk))
    tablet.get_by_label("New password").fill(NEW)
    press(tablet, "Keep it")
    sign_in(tablet, "ida", NEW)
    expect(tablet).to_have_url(re.compile(r"/$"))
    phone.goto("/account")
    expect(phone).to_have_url(re.compile("/sign-in"))
    tablet.goto("/account")
    expect(tablet.get_by_text("this one")).to_be_visible()


def test_a_second_factor_is_added_by_a_phone_and_asked_for(page_of: Visitor) -> None:
    person = builders.make_person(password=PASSWORD)
    page = page_of(person, viewport=PHONE)
    page.goto("/account")
    follow(page, "Add a second factor")
    look(page)
    press(page, "Add a second factor")
    look(page)
    secret = re.search(r"secret=([A-Z2-7]+)", scanned(page))
    assert secret is not None
    page.get_by_label("Code that the phone shows").fill("123")
    press(page, "Turn it on")
    expect(page.get_by_text("is not the code that is shown now").first).to_be_visible()
    # The library lets a wrong code wait a second.
    code = code_at(b32decode(secret[1]), time.time())
    expect(page.get_by_label("Code that the phone shows")).to_have_value("123")
    turn_on(page, code)
    look(page)
    recovery = page.locator(".recovery-codes code").first.inner_text()
    other = page_of(viewport=PHONE)
    other.goto("/sign-in")
    sign_in(other, person.sign_in_name, PASSWORD)
    look(other)
    other.get_by_label("Code", exact=True).fill(recovery)
    press(other, "Sign in")
    other.goto("/account")
    expect(other.get_by_text("9 recovery codes are left")).to_be_visible()
    look(other)


def turn_on(page: Page, code: str) -> None:
    """Type the code until the wait that the wrong one brought is over."""
    for _ in range(20):
        page.get_by_label("Code that the phone shows").fill(code)
        press(page, "Turn it on")
        if page.locator(".recovery-codes").count():
            return
        page.wait_for_timeout(500)
    raise AssertionError(page.url)


def test_pages_about_people_are_walked_by_links_and_read_by_all(
    page_of: Visitor,
) -> None:
    admin = builders.make_admin()
    builders.make_person(name="Ida Penn")
    page = page_of(admin, viewport={"width": 320, "height": 700})
    page.goto("/people")
    look(page)
    follow(page, "Invite somebody")
    look(page)
    page.goto("/people")
    follow(page, "Ida Penn")
    follow(page, "Erase …")
    look(page)
    page.get_by_label("Sign-in name, once more").fill(
        Person.objects.get(name="Ida Penn").sign_in_name
    )
    press(page, "Erase for good")
    expect(page.get_by_text("Erased.")).to_be_visible()
    page.goto("/")
    page.locator("summary", has_text="Pages").click()
    with page.expect_navigation():
        page.get_by_role("link", name="The Founder").first.click()
    expect(page.get_by_role("heading", name="Where you are signed in")).to_be_visible()
    look(page)
