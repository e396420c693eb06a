"""
The parts desk from files to shelves and back, with no shell and no demo data.

A keeper brings in the files that clubs have, pairs, labels, hands out, takes back,
moves a drawer, counts it, and takes the list out and in again.
"""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from inventory.compute.roles import Role
from inventory.models import Part, PartSet, Person, StocktakeLine
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible
from tests.inventory import bags

pytestmark = pytest.mark.django_db(transaction=True)

BOTH = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
FILES = Path(__file__).parents[1] / "files"


@pytest.fixture
def keeper() -> Person:
    bags.gauge()
    return builders.make_person(Role.PARTS_KEEPER, name="Prue Drawer")


def look_at(page: Page, name: str) -> None:
    page.goto("/pairing/new")
    form = page.locator("form#upload")
    form.locator("input[type=file]").set_input_files(FILES / name)
    form.get_by_label("Name of the batch").fill(name)
    form.get_by_label("Gauge").select_option("0")
    form.get_by_role("button", name="Look at the file").click()
    expect(page.get_by_text("What the columns were taken for")).to_be_visible()


def take(page: Page, button: str, says: str) -> None:
    # Five thousand at once take a busy machine longer than a page may.
    page.get_by_role("button", name=button).click(timeout=180_000)
    expect(page.get_by_text(says).first).to_be_visible(timeout=180_000)


def open_fold(page: Page, words: str) -> None:
    page.locator("summary", has_text=words).first.click()


@BOTH
def test_eight_files_come_in(
    page_of: Visitor, keeper: Person, viewport: dict[str, int]
) -> None:
    page = page_of(keeper, viewport=viewport)
    whole = {
        "semicolons_cp1252.csv": 60,
        "merged_title_rows.xlsx": 48,
        "inches.csv": 40,
        "gears.csv": 56,
        "motors.xlsx": 24,
    }
    for name, count in whole.items():
        look_at(page, name)
        take(page, f"Take {count} parts in", f"{count} parts are in stock.")
    look_at(page, "five_wrong_rows.csv")
    expect(page.get_by_text("read as 1.843 mm; expected 8 to 32")).to_be_visible()
    assert_accessible(page)
    take(page, "Take 396 parts in, leave 5 rows out", "396 parts are in stock.")
    look_at(page, "total_row.xlsx")
    expect(page.get_by_text("worked out of other rows").first).to_be_visible()
    take(page, "Take 30 parts in, leave 2 rows out", "30 parts are in stock.")
    look_at(page, "five_thousand_rows.csv")
    take(page, "Take 5000 parts in", "5,000 parts are in stock.")
    assert Part.objects.count() == sum(whole.values()) + 396 + 30 + 5_000


def pair_into_bags(page: Page) -> None:
    """Pair into a drawer, with labels for the bags."""
    page.get_by_label("Drawer", exact=True).fill("Bags")
    page.get_by_role("button", name="Confirm").click()
    expect(page.get_by_role("link", name="Bag labels")).to_be_visible()
    page.get_by_role("link", name="Bag labels").click()
    expect(page.locator("ol.labels svg.label").first).to_be_visible()


def lend_a_bag(page: Page) -> None:
    """Hand a bag out whole, see whose it is, take it back worn and still a bag."""
    bag = PartSet.objects.all()[0].tag
    page.goto(f"/pairs/{bag}")
    open_fold(page, "Hand out")
    page.get_by_label("To", exact=True).fill("Ada Lane")
    page.get_by_role("button", name="Hand out").click()
    expect(page.get_by_text("with a member").first).to_be_visible()
    page.goto("/parts")
    page.get_by_role("link", name="Who has what").click()
    expect(page.get_by_role("heading", name="Ada Lane")).to_be_visible()
    assert_accessible(page)
    page.locator("ol.ruled a.row-link").first.click()
    open_fold(page, "Take back")
    sizes = page.locator("input[name^='back-size_']")
    sizes.first.fill("wide")
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("“wide”").first).to_be_visible()
    expect(sizes.first).to_have_value("wide")
    sizes.first.fill("17.50")
    sizes.last.fill("17.52")
    page.get_by_label("Read with").select_option(index=1)
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("Δ 0.020 mm").first).to_be_visible()
    assert PartSet.objects.together().filter(tag=bag).exists()


def lay_elsewhere(page: Page) -> None:
    """Lay a tyre into another drawer; its bag goes with it."""
    page.goto("/drawers")
    assert_accessible(page)
    page.get_by_role("link", name="Bags", exact=True).click()
    ticks = page.locator("ol.ruled input[type=checkbox]")
    ticks.nth(0).check()
    page.get_by_role("button", name="Lay those ticked elsewhere").click()
    page.get_by_label("Into drawer").fill("")
    page.get_by_role("button", name="Lay them there").click()
    expect(page.get_by_text("This field is required.").first).to_be_visible()
    page.get_by_label("Into drawer").fill("Shelf 2")
    page.get_by_role("button", name="Lay them there").click()
    expect(page.get_by_text("2 parts lie in drawer Shelf 2.")).to_be_visible()


def count_the_drawer(page: Page) -> None:
    """Count it: one lies there, one is gone, one should not be there."""
    page.get_by_role("button", name="Count it").click()
    other = Part.objects.exclude(drawer="Shelf 2").earliest("pk")
    page.locator("ol.ruled input[type=checkbox]").first.check()
    page.get_by_label("What else lies there").fill(other.tag.lower())
    assert_accessible(page)
    page.get_by_role("button", name="Keep what is ticked").click()
    expect(page.get_by_text("1 part is not ticked yet")).to_be_visible()
    page.get_by_role("button", name="Keep it and close the stocktake").click()
    expect(page.get_by_text("closed by Prue Drawer")).to_be_visible()
    counted = StocktakeLine.objects.values_list("counted", flat=True)
    assert sorted(counted) == ["found", "missing", "surplus"]
    assert_accessible(page)


def out_and_in(page: Page, path: Path) -> None:
    """All parts leave as a workbook, and come in again as nothing new."""
    page.goto("/parts")
    with page.expect_download() as leaving:
        page.get_by_role("link", name="XLSX").click()
    leaving.value.save_as(path)
    page.goto("/pairing/new")
    form = page.locator("form#upload")
    form.locator("input[type=file]").set_input_files(path)
    form.get_by_label("Name of the batch").fill("All of it")
    # The file is not lost when another field is wrong.
    form.get_by_role("button", name="Look at the file").click()
    expect(form.get_by_text("all.xlsx is kept.")).to_be_visible()
    form.get_by_label("Gauge").select_option("0")
    form.get_by_role("button", name="Look at the file").click()
    expect(page.get_by_text("Nothing new: 60 parts")).to_be_visible()


@BOTH
def test_parts_go_out_come_back_are_counted_and_leave_as_a_file(
    page_of: Visitor, keeper: Person, viewport: dict[str, int], tmp_path: Path
) -> None:
    builders.make_person(Role.MEMBER, name="Ada Lane")
    page = page_of(keeper, viewport=viewport)
    look_at(page, "semicolons_cp1252.csv")
    take(page, "Take 60 parts in", "60 parts are in stock.")
    pair_into_bags(page)
    lend_a_bag(page)
    lay_elsewhere(page)
    count_the_drawer(page)
    out_and_in(page, tmp_path / "all.xlsx")
