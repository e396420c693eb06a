"""The way in, as a person takes it: by keyboard, on a phone and at a desk."""

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from inventory.models import Person
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.conftest import PASSWORD


@pytest.mark.parametrize("viewport", [PHONE, DESK, {"width": 320, "height": 640}])
def test_sign_in_by_keyboard_on_every_width(
    page_of: Visitor, transactional_person: Person, viewport: dict[str, int]
) -> None:
    page = page_of(viewport=viewport)
    page.goto("/password")
    expect(page).to_have_title("Sign in · Feelerbook")
    name_field(page).focus()
    page.keyboard.type("rosa")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page).to_have_title("Change your password · Feelerbook")
    assert not scrolls_sideways(page)


def test_wrong_password_is_said_and_the_name_kept(
    page: Page, transactional_person: Person
) -> None:
    page.goto("/sign-in")
    name_field(page).fill("rosa")
    page.get_by_label("Password").fill("not this one at all")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_be_visible()
    expect(page.get_by_text("do not go together").first).to_be_visible()
    expect(page.get_by_label("Sign-in name")).to_have_value("rosa")


@pytest.mark.parametrize("address", ["/sign-in", "/password", "/no-such-page"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_of_sign_in_are_accessible(
    page_of: Visitor, transactional_person: Person, address: str, scheme: str
) -> None:
    page = page_of(transactional_person if address != "/sign-in" else None)
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    page.goto(address)
    assert_accessible(page)


def name_field(page: Page) -> Locator:
    return page.get_by_label(re.compile("sign.in name", re.IGNORECASE))
