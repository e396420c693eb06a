"""A list with faults is mended and taken, and the club taken out, on a small phone."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders
from tests.browser.conftest import Visitor
from tests.browser.hands import assert_accessible

pytestmark = pytest.mark.django_db(transaction=True)
NARROWEST = {"width": 320, "height": 640}


def test_list_is_looked_at_and_taken_and_the_club_taken_out(
    page_of: Visitor, tmp_path: Path
) -> None:
    file = tmp_path / "members.csv"
    file.write_text(
        "Full name,Als\nBo Lark,member\nCy Fern,steward\n", encoding="utf-8"
    )
    page = page_of(builders.make_person(Role.ADMIN), viewport=NARROWEST)
    page.goto("/club")
    page.get_by_role("link", name="Bring in and take out").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Bring in and take out")
    assert_accessible(page)
    page.get_by_role("link", name="People", exact=True).last.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Bring in people")
    assert_accessible(page)
    page.get_by_label("List").set_input_files(file)
    page.get_by_role("button", name="Read the list").click()
    expect(page.get_by_text("2 are new and right, 0 here already")).to_be_visible()
    # The second column was not recognised; it is said what it is.
    page.get_by_label("Als").select_option("roles")
    page.get_by_role("button", name="Read it so").click()
    expect(page.get_by_text("“steward” was not expected")).to_be_visible()
    assert_accessible(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROWEST["width"]
    page.get_by_role("button", name="Take 1 row, leave the wrong ones out").press(
        "Enter"
    )
    expect(page.get_by_text("1 rows of people are in.")).to_be_visible()
    assert Person.objects.filter(name="Bo Lark").exists()
    # Whoever brought people in is led to them, for each needs a link to come in by.
    expect(page.get_by_role("heading", level=1)).to_have_text("People")
    page.goto("/club")
    page.get_by_role("link", name="Bring in and take out").click()
    with page.expect_download() as given:
        page.get_by_role("button", name="Take the club out").click()
    assert given.value.suggested_filename.endswith(".zip")
