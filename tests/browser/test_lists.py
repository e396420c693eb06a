"""Each control of a row is the one that a click or a tap on its middle reaches."""

import pytest
from playwright.sync_api import Locator, Page, expect

from inventory.compute.roles import Role
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.inspection import garage
from tests.inventory import bags

pytestmark = pytest.mark.django_db(transaction=True)

SIZES = [PHONE, DESK, {"width": 320, "height": 640}]


def press_middle(page: Page, control: Locator) -> None:
    """Click where the eye sees its middle, whatever lies there."""
    control.scroll_into_view_if_needed()
    box = control.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def test_menu_of_whoever_does_it_all_keeps_to_one_line(page_of: Visitor) -> None:
    page = page_of(builders.make_person(*Role, name="Ada Wimple"))
    page.goto("/gauges")
    links = page.locator(".pages-open .pages a")
    tops = links.evaluate_all("l => l.map(e => e.getBoundingClientRect().top)")
    assert len(tops) == 11
    assert len(set(tops)) == 1
    home = page.get_by_role("link", name="Feelerbook").first
    expect(home).to_be_visible()


@pytest.mark.parametrize("viewport", SIZES, ids=["phone", "desk", "small"])
@pytest.mark.parametrize("address", ["/parts", "/pairs"])
def test_every_box_of_a_list_can_be_ticked(
    page_of: Visitor, viewport: dict[str, int], address: str
) -> None:
    bags.make_pairing(4)
    page = page_of(builders.make_person(Role.PARTS_KEEPER), viewport=viewport)
    page.goto(address)
    boxes = page.locator(".row input[type=checkbox]")
    count = boxes.count()
    assert count >= 4
    for number in range(count):
        press_middle(page, boxes.nth(number))
        expect(boxes.nth(number)).to_be_checked()
    assert not scrolls_sideways(page)
    assert_accessible(page)
    row = page.locator(".row").first
    where = row.locator(".row-link").get_attribute("href")
    # Off the controls the whole row is its link.
    with page.expect_navigation():
        press_middle(page, row.locator(".balloon"))
    assert page.url.endswith(str(where))


def test_tables_are_read_down_a_phone_and_not_across(page_of: Visitor) -> None:
    """What a row is looked up for stands in sight: outcome, doubt, who read it."""
    builders.make_edition(garage.RULES)
    car = garage.make_car()
    gear = garage.gear(36, "18.60", hub="6.00")
    gauge = builders.make_gauge().gauge
    batch = bags.make_batch("18.42", "18.44")
    page = page_of(builders.make_person(*Role), viewport=PHONE)
    places = (
        f"/cars/{car.tag}/practice",
        f"/parts/{gear.tag}",
        f"/gauges/{gauge.pk}",
        f"/pairing/of/{batch.pk}",
    )
    for place in places:
        page.goto(place)
        frames = page.locator(".table-frame:has(tbody tr)").evaluate_all(
            "all => all.map(e => e.scrollWidth - e.clientWidth)"
        )
        assert frames, place
        assert max(frames) <= 0, place
    page.goto(f"/gauges/{gauge.pk}")
    error = page.locator("[data-label='Permissible error']").first
    assert "Permissible error" in error.evaluate(
        "e => getComputedStyle(e, '::before').content"
    )
