"""From an empty club to the gears that fit: own and club parts on a car."""

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from inspection.compute.night import PartPosition
from inspection.models import Car, FittedPart
from inventory.compute.stock import PartState
from inventory.models import Part, Person
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.browser.walks import Walk, begin, join, settle, write_rules
from tests.inspection import garage

#: A level car of which everything is typed; numbers as in the drawers of `garage`.
SIZES = {
    **garage.GEOMETRY,
    **garage.ROOM,
    "tyre_diameter_front_left": "18",
    "tyre_diameter_front_right": "18",
}


def tidy(page: Page) -> None:
    assert not scrolls_sideways(page), page.url
    assert_accessible(page)


def fill(page: Page, **said: str) -> None:
    """Fill fields by the names that they are sent by."""
    for name, text in said.items():
        field = page.locator(f"[name='{name}']")
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(text)
        else:
            field.fill(text)


def press(
    page: Page, name: str | re.Pattern[str], *, within: Locator | None = None
) -> None:
    with page.expect_navigation():
        (within or page).get_by_role("button", name=name).first.click()


def follow(page: Page, name: str | re.Pattern[str]) -> None:
    with page.expect_navigation():
        page.locator("#main").get_by_role("link", name=name).first.click()


def row_of(page: Page, place: str) -> Locator:
    return page.locator("#on-car li").filter(has_text=place)


def bring_the_clubs_gears(page: Page) -> None:
    """Take two spurs into the drawers, by the pages."""
    for teeth, over in (("28", "15.00"), ("40", "21.00")):
        page.goto("/parts/new/gear")
        fill(
            page,
            role="spur",
            teeth=teeth,
            pitch_name="module 0.5",
            drawer="G1",
            size_gear_diameter=over,
            size_bore="2.40",
            size_hub_width="6",
            gauge="0",
        )
        press(page, "Take into stock")


def register(page: Page) -> None:
    page.goto("/cars")
    follow(page, "New car")
    page.get_by_label(re.compile("^Number it usually")).fill("7")
    page.get_by_label("Name", exact=True).fill("Heron")
    page.get_by_label("Class", exact=True).select_option(label="Club cars")
    page.get_by_label("Motor", exact=True).select_option("sidewinder")
    press(page, "Register it")
    # One page asks for whatever is to be known, what unlocks most first.
    expect(page.get_by_role("heading", name="Sizes")).to_be_visible()
    expect(page.locator("#main")).to_contain_text(
        re.compile(r"Ground check:\s+\d+ sizes")
    )
    tidy(page)


def put_own_parts_on(page: Page, car: Car) -> None:
    page.goto(f"/cars/{car.tag}")
    with page.expect_navigation():
        row_of(page, "Pinion").get_by_role("link", name="Put on").click()
    tidy(page)
    follow(page, "A part of my own, with its sizes")
    tidy(page)
    # A slip first: the sentence names the field, and nothing typed is lost.
    fill(page, teeth="9", pitch_name="module 0.5", fixing="press", size_bore="15")
    press(page, "Put it on the car")
    expect(page.locator("#form-errors")).to_contain_text("15 cannot be right")
    expect(page.locator("[name='teeth']")).to_have_value("9")
    tidy(page)
    fill(page, size_bore="1.48")
    press(page, "Put it on the car")
    expect(row_of(page, "Pinion")).to_contain_text("own")
    for place, words in (("rear-left", "Rear left"), ("rear-right", "Rear right")):
        page.goto(f"/cars/{car.tag}/on/{place}/own")
        fill(page, compound="soft", size_tyre_diameter="20.00", size_tyre_width="16")
        press(page, "Put it on the car")
        expect(row_of(page, words)).to_contain_text("20.00")


def put_a_club_part_on(page: Page, car: Car, part: Part) -> None:
    """Type a tag that is none, and then one that is."""
    with page.expect_navigation():
        row_of(page, "Gear").filter(has_not_text="motor").first.get_by_role(
            "link", name="Put on"
        ).click()
    field = page.get_by_label(re.compile("^Tag, or words"))
    field.fill("G99")
    press(page, "Put on, or search")
    expect(page.locator("#form-errors")).to_contain_text("“G99” is the tag of no part")
    expect(field).to_have_value("G99")
    tidy(page)
    field.fill(part.tag.lower())
    press(page, "Put on, or search")
    expect(page.locator("#status, .messages").first).to_contain_text(part.tag)
    tidy(page)


def type_sizes(page: Page, car: Car) -> None:
    follow(page, "Sizes")
    fill(page, axle_diameter="238")
    press(page, "Store")
    expect(page.locator("#form-errors")).to_contain_text("“238” was typed")
    for name, text in SIZES.items():
        field = page.locator(f"[name='{name}']")
        if field.count():
            field.fill(text)
    press(page, "Store")
    expect(page).to_have_url(re.compile(f"/cars/{car.tag}$"))
    tidy(page)


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
def test_member_registers_a_car_puts_parts_on_and_hears_which_gears_fit(
    page_of: Visitor, viewport: dict[str, int]
) -> None:
    founder = page_of(viewport=viewport)
    founder.context.set_default_timeout(30_000)
    walk = Walk(founder)
    for step in (begin, settle, write_rules, join):
        step(walk)
    bring_the_clubs_gears(founder)
    member = Person.objects.get(sign_in_name="bo")
    page = page_of(member, viewport=viewport)
    page.context.set_default_timeout(30_000)
    register(page)
    car = Car.objects.get()
    put_own_parts_on(page, car)
    large = Part.objects.get(gear__teeth=40)
    put_a_club_part_on(page, car, large)
    type_sizes(page, car)
    # Left and right change sides, and the club's gear comes off and stays with them.
    left = FittedPart.objects.get(position=PartPosition.REAR_LEFT, removed_at=None)
    press(page, "Swap rear left and right")
    moved = FittedPart.objects.get(position=PartPosition.REAR_RIGHT, removed_at=None)
    assert moved.part == left.part
    press(page, re.compile("^Take off gear"))
    assert Part.objects.get(pk=large.pk).state == PartState.WITH_MEMBER
    # And now: which gears fit?
    follow(page, "Will it fit")
    fits = page.get_by_role("region", name="28 teeth")
    expect(fits).to_contain_text("It fits: 28 teeth")
    tidy(page)
    page.get_by_text("Another car, or teeth that I have or want").click()
    page.get_by_label("Teeth I have or want").fill("29")
    press(page, "Look")
    expect(page.locator("#main")).to_contain_text("None with 29 teeth is to be had")
    expect(page.locator("#main")).to_contain_text("the nearest have 28")
    tidy(page)
