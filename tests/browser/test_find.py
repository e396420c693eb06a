"""The box in the head: by keyboard on desk and phone, without script, by a camera."""

import pytest
from playwright.sync_api import expect

from inventory.compute.roles import Role
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible

pytestmark = pytest.mark.django_db(transaction=True)
NARROWEST = {"width": 320, "height": 640}

# A camera and a reader of codes, which no Chromium has on this kind of machine.
CAMERA = """
navigator.mediaDevices.getUserMedia = async () => {
  if (window.name === "refused") { throw new Error("refused"); }
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d");
  setInterval(() => pen.fillRect(0, 0, 9, 9), 40);
  return canvas.captureStream(); };
window.BarcodeDetector = class { async detect() { return [{ rawValue: "CODE" }]; } };
"""


@pytest.mark.parametrize("viewport", [NARROWEST, PHONE, DESK], ids=lambda v: v["width"])
def test_box_is_in_the_head_of_every_page(
    page_of: Visitor, viewport: dict[str, int]
) -> None:
    part = builders.make_part(name="Slick")
    page = page_of(builders.make_person(Role.PARTS_KEEPER), viewport=viewport)
    page.goto("/")
    box = page.get_by_role("textbox", name="Find")
    expect(box).to_be_visible()
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= viewport["width"]
    box.fill("slick")
    box.press("Enter")
    expect(page.get_by_role("link", name="Slick", exact=True)).to_be_visible()
    assert_accessible(page)
    expect(page.get_by_role("button", name="Scan")).to_be_hidden()
    page.get_by_role("textbox", name="Find").fill(part.tag.lower())
    page.get_by_role("textbox", name="Find").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Slick")


def test_box_works_without_script(page_of: Visitor) -> None:
    page = page_of(builders.make_scrutineer(), script=False)
    page.goto("/cars")
    page.get_by_role("textbox", name="Find").fill("nothing of that name")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_text("goes by “nothing of that name”")).to_be_visible()


def test_code_before_the_camera_leads_to_its_part(page_of: Visitor) -> None:
    part = builders.make_part(name="Slick")
    page = page_of(builders.make_person(), viewport=PHONE)
    page.add_init_script(CAMERA.replace("CODE", f"http://x.example/parts/{part.tag}"))
    page.goto("/cars")
    page.get_by_role("button", name="Scan").click()
    # Printed at an address that nobody here knows: it says so, and leads on.
    expect(page.get_by_text("This label was printed for x.example")).to_be_visible()
    page.get_by_role("link", name="Slick", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Slick")


def test_camera_that_may_not_be_used_says_so(page_of: Visitor) -> None:
    page = page_of(builders.make_person(), viewport=PHONE)
    page.add_init_script("window.name = 'refused';" + CAMERA)
    page.goto("/cars")
    page.get_by_role("button", name="Scan").click()
    expect(page.get_by_text("The camera may not be used")).to_be_visible()
    expect(page.locator("dialog video")).to_be_hidden()
    assert_accessible(page)
    page.get_by_role("button", name="Close").click()
    expect(page.get_by_role("dialog")).to_be_hidden()


@pytest.mark.parametrize("width", [1152, 1280, 1535])
def test_box_of_who_does_it_all_has_room_for_a_tag_beside_the_camera(
    page_of: Visitor, width: int
) -> None:
    page = page_of(
        builders.make_person(*Role), viewport={"width": width, "height": 800}
    )
    page.add_init_script(CAMERA)
    page.goto("/cars")
    expect(page.get_by_role("button", name="Scan")).to_be_visible()
    room = page.locator("#find").evaluate(
        """box => {
          const pen = document.createElement("canvas").getContext("2d");
          const style = getComputedStyle(box);
          pen.font = style.font;
          return box.clientWidth - parseFloat(style.paddingLeft)
            - parseFloat(style.paddingRight) - pen.measureText("T2222G").width;
        }"""
    )
    assert room >= 0
