"""A part comes in by its page, is found, measured and retired, on desk and phone."""

import pytest
from playwright.sync_api import expect

from inventory.compute.roles import Role
from inventory.compute.stock import PartState
from inventory.models import Part
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible
from tests.inventory import bags

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_guide_is_made_found_measured_and_retired(
    page_of: Visitor, viewport: dict[str, int]
) -> None:
    bags.gauge()
    page = page_of(builders.make_person(Role.PARTS_KEEPER), viewport=viewport)
    page.goto("/parts")
    page.get_by_role("link", name="New guide").click()
    assert_accessible(page)
    page.get_by_label("Name").fill("Deep blade")
    page.get_by_label("Drawer").fill("E1")
    page.get_by_label("Family").fill("long post")
    page.get_by_label("Material").fill("acetal")
    page.get_by_role("button", name="Take into stock").click()
    expect(page.locator(".page-facts")).to_contain_text("long post, acetal")
    part = Part.objects.get()
    page.locator("summary", has_text="Measure").click()
    page.get_by_label("Quantity").select_option("guide_depth")
    page.get_by_label("Readings").fill("6.52 6.54")
    page.get_by_role("button", name="Record the set").click()
    expect(page.locator("tbody")).to_contain_text("6.53")
    page.goto("/parts")
    page.get_by_label("Any printed word").fill("acetal")
    page.get_by_label("Kind").select_option("guide")
    page.get_by_role("button", name="Search").click()
    row = page.locator("li.row", has_text=part.tag)
    expect(row).to_contain_text("6.53 mm")
    row.get_by_role("link", name="Deep blade").click()
    # Nothing is asked of a guide that no check answers.
    expect(page.get_by_text("Which cars it fits")).to_have_count(0)
    page.locator("summary", has_text="Retire").click()
    page.locator("#retire-note").fill("chipped")
    page.get_by_role("button", name="Retire").click()
    expect(page.locator(".page-facts")).to_contain_text("Retired")
    assert Part.objects.get().state == PartState.RETIRED


GEARS = """Tag;Teeth;Pitch;OD
X1;28;64 pitch;11.9
X2;31;64 pitch;13x
X3;30;64 pitch;
Mean;;;12.4
"""


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_tin_of_gears_is_pasted_mended_and_taken_in(
    page_of: Visitor, viewport: dict[str, int]
) -> None:
    bags.gauge()
    page = page_of(builders.make_person(Role.PARTS_KEEPER), viewport=viewport)
    page.goto("/pairing/new")
    form = page.locator("form#paste")
    form.get_by_label("Table").fill(GEARS)
    form.get_by_label("Name of the batch").fill("A tin")
    form.get_by_label("Gauge").select_option(label="not known: an old list")
    form.locator("summary").click()
    form.get_by_label("Gear", exact=True).select_option("spur")
    form.get_by_role("button", name="Look at the table").click()
    expect(page.get_by_label("The rows are")).to_have_value("gear")
    assert_accessible(page)
    take = page.get_by_role("button", name="Take")
    expect(take).to_have_text("Take 2 parts in, leave 2 rows out")
    page.get_by_label("Row 3, column D").fill("13.0")
    page.get_by_role("button", name="Mend these rows").click()
    expect(take).to_have_text("Take 3 parts in, leave 1 row out")
    take.click()
    expect(page.get_by_role("status").first).to_be_visible()
    for tag in ("X1", "X2", "X3"):
        expect(page.locator("li.row", has_text=tag)).to_be_visible()
    assert not Part.objects.filter(name="Mean").exists()
