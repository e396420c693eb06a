"""Fit in Chromium: a gear to its car, a car to its remedy, a jig sheet to paper."""

from io import BytesIO

import pypdf
import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.actions.sheets import start_sheet
from inspection.compute.night.entries import Decision, PartPosition
from inspection.models import Edition, Seal, Sheet
from inventory.actions.audit import Act
from inventory.compute.stock.words import PartState
from inventory.models import Part, Person
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways, seal
from tests.inspection import garage

SIZES = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])


def tidy(page: Page) -> None:
    assert not scrolls_sideways(page)
    assert_accessible(page)


@SIZES
def test_unmarked_gear_finds_its_car_and_is_reserved(
    transactional_db: None, page_of: Visitor, viewport: dict[str, int]
) -> None:
    builders.make_edition(garage.RULES)
    owner = builders.make_person()
    car = garage.make_car(owner=owner)
    spare = garage.gear(28, "15.02")
    page = page_of(owner, viewport=viewport)
    page.goto("/fit")
    tidy(page)
    page.get_by_role("link", name="I have an unmarked gear").click()
    page.get_by_label("Teeth", exact=True).fill("28")
    page.get_by_label("Over its teeth").fill("15,01")
    page.get_by_label("Bore").fill("2.40")
    page.get_by_label("Width over the hub").fill("6")
    page.get_by_role("button", name="What is it?").click()
    expect(page.get_by_role("status").last).to_contain_text("module 0.5.")
    tidy(page)
    page.get_by_role("link", name=car.name).click()
    expect(page.locator("#chosen-head")).to_have_text("The gear in your hand")
    tidy(page)
    page.get_by_role("link", name=spare.name or "spur, 28 teeth").first.click()
    expect(page.locator("#chosen")).to_contain_text(spare.tag)
    expect(page.locator(".drawing > svg[role=img]")).to_be_visible()
    page.get_by_role("button", name="Reserve for me").click()
    expect(page.locator("#status")).to_contain_text(f"Reserved for you: {spare.tag}")
    spare.refresh_from_db()
    assert (spare.state, spare.holder) == (PartState.RESERVED, owner)


def test_member_hears_at_once_whether_it_fits(
    transactional_db: None, page_of: Visitor
) -> None:
    builders.make_edition(garage.RULES)
    owner = builders.make_person()
    car = garage.make_car(owner=owner)
    spare = garage.gear(26, "14.00")
    page = page_of(owner, viewport=PHONE, touch=True)
    page.goto("/")
    # Two taps, and no scrolling: the answer, why, and the button.
    page.get_by_text("Pages", exact=True).tap()
    page.get_by_role("link", name="Will it fit").last.tap()
    expect(page.locator(".fit-words")).to_contain_text(
        "It fits: 26 teeth, rolls 8 % further, clears the track by 3.00 mm"
    )
    for one in (".fit-answer", ".fit-words", "#chosen button"):
        box = page.locator(one).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= PHONE["height"], one
    # The code on a bag opens the page of what is in it: no tap.
    page.goto(f"/parts/{spare.tag}")
    mine = page.locator("#my-cars-head + ol")
    expect(mine).to_contain_text("rolls 8 % further, clears the track by 3.00 mm")
    tidy(page)
    mine.get_by_role("link", name=car.name).tap()
    expect(page.locator("#chosen")).to_contain_text(spare.tag)
    tidy(page)


@SIZES
def test_size_in_hand_is_lit_in_the_drawing(
    transactional_db: None, page_of: Visitor, viewport: dict[str, int]
) -> None:
    page = page_of(viewport=viewport)
    page.goto("/fit/numbers")
    tidy(page)
    lit = page.locator(".is-lit")
    expect(lit).to_have_count(0)
    for label, words in (("Rear tyre", "tyre ⌀"), ("Axle", "axle ⌀")):
        page.get_by_label(label, exact=True).focus()
        expect(lit).to_have_text([words])
        expect(lit).to_be_in_viewport()
    page.get_by_text("Room on the car").last.click()
    page.get_by_label("Motor slot, nearest").focus()
    expect(lit).to_have_text(["slot"])
    expect(lit).to_be_in_viewport()
    tidy(page)
    # The last field of the jig is far down; the drawing is still there.
    page.goto("/jig")
    page.get_by_label("Front wheel off the block").focus()
    expect(lit).to_have_text(["off"])
    expect(lit).to_be_in_viewport()


@SIZES
def test_car_is_sent_back_mended_from_the_drawers_and_passed(
    transactional_db: None, page_of: Visitor, viewport: dict[str, int]
) -> None:
    edition = builders.make_edition(garage.RULES[:3])
    scrutineer = builders.make_scrutineer()
    part = garage.gear(30, "16.00")
    sheet = sent_back(edition, scrutineer)
    page = page_of(scrutineer, viewport=viewport)
    page.goto(f"/sheet/{sheet.number}")
    remedy = page.locator("#remedies").get_by_role("listitem")
    expect(remedy).to_contain_text(part.tag)
    tidy(page)
    remedy.get_by_role("button", name="Hand out").click()
    expect(page.locator("#status")).to_contain_text("the re-check begins with it")
    tidy(page)
    page.get_by_role("button", name="Queue it for its re-check").click()
    page.get_by_role("link", name=sheet.entry.car.name).click()
    page.get_by_role("button", name="On the block").click()
    page.wait_for_url("**/sheet/*/block")
    expect(page.locator("#verdict-head")).to_contain_text("All rules met")
    seal(page, "Seal: passed")
    page.wait_for_url(f"**/sheet/{Sheet.objects.latest('id').number}")
    expect(page.locator("main")).to_contain_text("Legal down to rear tyres of")
    assert Seal.objects.latest("id").decision == Decision.PASSED
    assert Part.objects.get(pk=part.pk).state == PartState.ON_CAR


def sent_back(edition: Edition, scrutineer: Person) -> Sheet:
    """Send a car back: its gear of 18.60 clears by 0.70, and 0.80 is asked."""
    large = garage.gear(36, "18.60")
    car = garage.make_car(
        on_car={PartPosition.GEAR: large},
        room=garage.ROOM | {"axle_to_bar_mm": "9.8", "slot_high_mm": "11.5"},
    )
    entry = builders.make_entry(car=car, night=builders.make_night(edition))
    act = Act(by=scrutineer, at=timezone.now())
    sheet = start_sheet(entry.pk, block=None, changed=(), act=act)
    builders.send_back(sheet.number, act=act)
    return sheet


@SIZES
def test_jig_sheet_is_worked_out_by_a_stranger_and_prints_on_one_page(
    transactional_db: None, page_of: Visitor, viewport: dict[str, int]
) -> None:
    page = page_of(viewport=viewport)
    page.goto("/jig")
    tidy(page)
    for label, text in {
        "Jig tyres": "17.6",
        "Race tyres": "19.5",
        "Motor, height as mounted": "16.6",
        "Shims in the box": "0.1 0.2 2x0.25",
        "Axle height, left": "8.30",
        "Axle height, right": "8.46",
        "Axle to reference, left": "60.30",
        "Axle to reference, right": "60.00",
        "Motor shaft over the underside": "8.10",
        "Front wheel off the block": "0.20",
    }.items():
        page.get_by_label(label, exact=True).fill(text)
    for place, text in enumerate(["40", "44"]):
        page.get_by_role("textbox", name="Between the two places").nth(place).fill(text)
    page.get_by_label("Track").fill("60")
    page.get_by_role("button", name="Work it out").click()
    # 17.6 / 2 - 16.6 / 2; common practice, no source.
    expect(page.locator(".reading")).to_contain_text("0.50")
    expect(page.locator("main")).to_contain_text("The right wheel sits 0.24 mm higher")
    # The longest sheet there is: nothing is as it should be.
    expect(page.locator(".jig-after .mark-no")).to_have_count(5)
    tidy(page)
    for size in ("A4", "Letter"):
        paper = pypdf.PdfReader(BytesIO(page.pdf(format=size)))
        assert len(paper.pages) == 1, size
        words = " ".join(paper.pages[0].extract_text().split())
        assert "Caution." in words
        assert "0.50" in words
        assert "Axle level" in words


def test_part_shows_the_cars_that_take_it(
    transactional_db: None, page_of: Visitor
) -> None:
    builders.make_edition(garage.RULES)
    car = garage.make_car()
    part = garage.gear(28, "15.00")
    page = page_of(car.owner)
    page.goto(f"/parts/{part.tag}")
    page.get_by_role("link", name="Which cars it fits").click()
    expect(page.locator("#cars-taking")).to_contain_text(car.name)
    tidy(page)


@SIZES
def test_pages_of_a_car_are_tidy(
    transactional_db: None, page_of: Visitor, viewport: dict[str, int]
) -> None:
    builders.make_edition(garage.RULES)
    car = garage.make_car()
    garage.gear(28, "15.00")
    page = page_of(car.owner, viewport=viewport)
    for address in (
        f"/cars/{car.tag}",
        f"/cars/{car.tag}/gearing",
        f"/cars/{car.tag}/sizes",
        f"/fit?car={car.tag}&kind=gear",
        f"/fit?car={car.tag}&kind=tyres",
        "/fit/numbers",
        "/fit/numbers?tyre=2&layout=sidewinder&kind=gear",
    ):
        page.goto(address)
        tidy(page)
