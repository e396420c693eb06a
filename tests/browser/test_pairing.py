"""From a bag of tyres to labels in the hand, at a desk and on a phone."""

import io
import re
import time
from pathlib import Path
from typing import Any

import pypdf
import pytest
import zxingcpp
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Locator, Page, Route, expect

from inventory.compute.batches import DraftState
from inventory.compute.roles import Role
from inventory.compute.stock.words import PartState
from inventory.models import Batch, BatchDraft, Part, PartReading, PartSet, Person
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor, session_cookie
from tests.browser.hands import assert_accessible
from tests.inventory import bags, hostile

pytestmark = pytest.mark.django_db(transaction=True)

BOTH = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def keeper() -> Person:
    bags.gauge()
    return builders.make_person(Role.PARTS_KEEPER, name="Prue Drawer")


@pytest.fixture
def sixty(tmp_path: Path) -> Path:
    """Write sixty tyres, three readings each, as a spreadsheet does."""
    rows: list[list[object]] = [["No", "Compound", "Ø 1", "Ø 2", "Ø 3"]]
    for number in range(60):
        # Thirty twos, by turns 0.01 and 0.04 mm apart, well mixed.
        pair, is_second = divmod(number * 37 % 60, 2)
        size = 18.20 + pair / 5 + is_second * (0.01 if pair % 2 else 0.04)
        compound = "soft" if pair % 3 else "firm"
        readings = [round(size + step, 2) for step in (0, 0.01, -0.01)]
        rows.append([f"No {number}", compound, *readings])
    path = tmp_path / "sixty.xlsx"
    path.write_bytes(hostile.workbook(rows))
    return path


def upload(page: Page, path: Path, name: str = "March bag") -> None:
    page.goto("/pairing/new")
    form = page.locator("form#upload")
    form.locator("input[type=file]").set_input_files(path)
    form.get_by_label("Name of the batch").fill(name)
    form.get_by_label("Gauge").select_option(index=1)
    form.get_by_role("button", name="Look at the file").click()


def count_of(page: Page) -> int:
    words = page.locator(".paired-count").inner_text()
    return int(re.match(r"\d+", words)[0])  # type: ignore[index]


@BOTH
def test_sixty_tyres_go_from_a_spreadsheet_to_printed_labels(
    page_of: Visitor, keeper: Person, sixty: Path, viewport: dict[str, int]
) -> None:
    page = page_of(keeper, viewport=viewport)
    upload(page, sixty)
    expect(page.get_by_text("What the columns were taken for")).to_be_visible()
    page.get_by_role("button", name="Take 60 parts in").click()
    expect(page.get_by_role("heading", name="March bag")).to_be_visible()
    before = count_of(page)

    # The tolerance moves, the page stays: it pairs again while one looks.
    page.evaluate("window.stays = true")
    way_in = page.locator(".settings-open a")
    if way_in.is_visible():
        # On a phone the pairs come first, and what is asked is folded away.
        expect(page.locator("#asked")).to_be_hidden()
        way_in.click()
    page.get_by_label("Tolerance").first.focus()
    slider = page.locator("#tolerance input[type=range]")
    slider.focus()
    for _ in range(4):
        slider.press("ArrowLeft")
    expect(page.get_by_role("textbox", name="Tolerance")).to_have_value("0.03")
    expect(page.locator(".paired-count b").first).not_to_have_text(str(before))
    fewer = count_of(page)
    assert fewer < before
    assert page.evaluate("window.stays") is True
    assert "tolerance=0.03" in page.url
    page.reload()
    assert count_of(page) == fewer
    # A row a pair over the width of the screen; a press lights the table's own row.
    rows = page.locator(".pair-chart li")
    expect(rows).to_have_count(fewer)
    box = page.locator(".pair-chart").bounding_box()
    frame = page.locator("#paired").bounding_box()
    assert box is not None
    assert frame is not None
    assert box["width"] == pytest.approx(frame["width"], abs=1)
    rows.nth(2).get_by_role("link").click()
    expect(page.locator("tr:target td").first).to_have_text("3")
    expect(page.locator("tr:target")).to_be_in_viewport()

    page.get_by_label("Drawer", exact=True).fill("P1")
    page.get_by_label("Pairs a drawer").fill("10")
    page.get_by_role("button", name=f"Confirm {fewer} pairs").click()
    expect(page.get_by_role("heading", name=f"{fewer} pairs confirmed")).to_be_visible()
    assert PartSet.objects.count() == fewer
    page.get_by_role("link", name="Bag labels").click()
    labels = page.locator("ol.labels svg.label")
    expect(labels).to_have_count(fewer)
    assert code_on(labels.first).endswith(f"/pairs/{PartSet.objects.all()[0].tag}")
    assert_printed(page)


def code_on(label: Locator) -> str:
    picture = Image.open(io.BytesIO(label.screenshot(scale="device")))
    enlarged = picture.resize((picture.width * 3, picture.height * 3))
    (code,) = zxingcpp.read_barcodes(enlarged)
    return code.text


def assert_printed(page: Page) -> None:
    """Print the labels as a browser does; every tag stands on the paper."""
    pdf = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4")))
    words = " ".join(sheet.extract_text() for sheet in pdf.pages)
    for part_set in PartSet.objects.all():
        assert part_set.tag in words
    # 60 × 29 mm labels: three a row, eight rows a sheet of A4 at the most.
    assert len(pdf.pages) <= -(-PartSet.objects.count() // 21)


@BOTH
def test_caliper_road_takes_the_keyboard_alone(
    page_of: Visitor, keeper: Person, viewport: dict[str, int]
) -> None:
    page = page_of(keeper, viewport=viewport)
    page.goto("/pairing/new")
    reach(page, "form#caliper [name=name]")
    page.keyboard.type("At the bench")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    reach(page, "form#caliper [name=reading_count]")
    page.keyboard.press("Control+A")
    page.keyboard.type("2")
    page.keyboard.press("Enter")
    expect(page.locator(".tyre-number")).to_contain_text("1")
    wait_for_field(page, "middle1")
    # What is read is larger than the number of what it is read of.
    size = "one => parseFloat(getComputedStyle(one).fontSize)"
    figure = page.locator(".bench-field input").first.evaluate(size)
    assert figure > 1.5 * page.locator(".tyre-number").evaluate(size)
    for number, (one, other) in enumerate(
        [("18,42", "18.44"), ("18.50", "0.729in"), ("18.45", "18.46")], 1
    ):
        expect(page.locator("#tyre")).to_have_attribute("data-number", str(number))
        read(page, one, other)
    expect(page.locator("#tyre")).to_have_attribute("data-number", "4")
    expect(page.locator("#said")).to_have_text("Tyre 4, reading 1 of 2")
    # A slip of the decimal is asked about, and typed again where it stands.
    read(page, "184.1", "18.43")
    expect(page.locator("#tyre .field-error").first).to_contain_text(
        "Did the gauge show 18.41?"
    )
    page.keyboard.type("18.41")
    page.keyboard.press("Enter")
    expect(page.locator("#tyre")).to_have_attribute("data-number", "5")
    reach(page, "form[action$='/drop'] button")
    page.keyboard.press("Enter")
    expect(page.get_by_text("taken out again")).to_be_visible()
    batch = Batch.objects.get()
    states = [one.part.state for one in batch.members.select_related("part")]
    assert states == [PartState.IN_STOCK] * 3 + [PartState.RETIRED]
    assert read_texts() == [
        *("18,42", "18.44", "18.50", "0.729in"),
        *("18.45", "18.46", "18.41", "18.43"),
    ]


def reach(page: Page, selector: str) -> None:
    """Press Tab until the focus is there, on the page that shows it."""
    page.locator(selector).first.wait_for(state="attached")
    page.wait_for_load_state()
    for _ in range(80):
        if page.evaluate("s => document.activeElement?.matches(s)", selector):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"Tab never reached {selector}")


def read(page: Page, *texts: str) -> None:
    """Type readings as a caliper does, each with its Enter."""
    for text in texts:
        page.keyboard.type(text)
        page.keyboard.press("Enter")


def start_bench(page: Page, batch: Batch) -> None:
    page.goto(f"/pairing/caliper/{batch.pk}")
    wait_for_field(page, "middle1")


def wait_for_field(page: Page, name: str) -> None:
    """Wait until the page's script has put the hand there: it takes keys from now."""
    expect(page.locator("#tyre input:focus")).to_have_attribute("name", name)


def test_tyre_that_could_not_be_sent_is_still_there_and_goes_once(
    page_of: Visitor, keeper: Person
) -> None:
    batch = bags.make_bench(reading_count=2)
    page = page_of(keeper)
    start_bench(page, batch)
    page.context.set_offline(True)
    read(page, "18.42", "18.44")
    expect(page.locator("#bench-words")).to_contain_text("Not sent")
    expect(page.locator("[name=middle1]")).to_have_value("18.42")
    page.context.set_offline(False)
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")
    expect(page.locator("#tyre")).to_have_attribute("data-number", "2")
    assert Part.objects.count() == 1


def test_caliper_does_not_wait_for_the_network(
    page_of: Visitor, keeper: Person
) -> None:
    page = page_of(keeper)
    start_bench(page, bags.make_bench(reading_count=2))
    held_up = hold_up(page)
    read(page, "18.42", "18.44")
    wait_for_route(page, held_up)
    # The rest of the bag at a caliper's speed, and half a reading more.
    read(page, "18.50", "18.52", "18.46", "18.48", "18.60")
    page.keyboard.type("18")
    expect(page.locator("#said")).to_contain_text(
        "18.50, 18.52, 18.46, 18.48, 18.60, 18"
    )
    let_through(page, held_up)
    expect(page.locator("#tyre")).to_have_attribute("data-number", "4")
    expect(page.locator("[name=middle1]")).to_have_value("18.60")
    expect(page.locator("[name=middle2]")).to_have_value("18")
    page.keyboard.type(".62")
    page.keyboard.press("Enter")
    expect(page.locator("#tyre")).to_have_attribute("data-number", "5")
    assert read_texts() == [
        *("18.42", "18.44", "18.50", "18.52"),
        *("18.46", "18.48", "18.60", "18.62"),
    ]


def test_next_tyre_waits_while_one_is_asked_about(
    page_of: Visitor, keeper: Person
) -> None:
    page = page_of(keeper)
    start_bench(page, bags.make_bench(reading_count=2))
    held_up = hold_up(page)
    read(page, "184.1", "18.43")
    wait_for_route(page, held_up)
    read(page, "18.50", "18.52")
    let_through(page, held_up)
    expect(page.locator("#tyre .field-error").first).to_contain_text(
        "Did the gauge show 18.41?"
    )
    expect(page.locator("#bench-words")).to_contain_text("18.50, 18.52")
    read(page, "18.41")
    expect(page.locator("#tyre")).to_have_attribute("data-number", "3")
    assert read_texts() == ["18.41", "18.43", "18.50", "18.52"]


def hold_up(page: Page) -> list[Route]:
    """Hold up what is sent to the bench; give the list where it will be."""
    held_up: list[Route] = []

    def keep(route: Route) -> None:
        held_up.append(route)

    page.route("**/pairing/caliper/*", keep)
    return held_up


def wait_for_route(page: Page, held_up: list[Route]) -> None:
    for _ in range(200):
        if held_up:
            return
        page.wait_for_timeout(50)
    pytest.fail("Nothing was sent.")


def let_through(page: Page, held_up: list[Route]) -> None:
    for one in held_up:
        one.continue_()
    page.unroute("**/pairing/caliper/*")


def test_what_is_typed_before_the_bench_is_ready_is_its_first_reading(
    page_of: Visitor, keeper: Person
) -> None:
    page = page_of(keeper)
    batch = bags.make_bench(reading_count=2)

    def late(route: Route) -> None:
        page.keyboard.type("18.42")
        page.keyboard.press("Enter")
        page.keyboard.type("18.4")
        route.continue_()

    page.route("**/caliper*.js", late)
    page.goto(f"/pairing/caliper/{batch.pk}")
    expect(page.locator("[name=middle1]")).to_have_value("18.42")
    expect(page.locator("[name=middle2]")).to_have_value("18.4")
    assert not Part.objects.exists()


def read_texts() -> list[str]:
    readings = PartReading.objects.order_by("pk")
    return list(readings.values_list("text", flat=True))


def test_bounce_of_a_caliper_is_one_reading(page_of: Visitor, keeper: Person) -> None:
    page = page_of(keeper)
    start_bench(page, bags.make_bench(reading_count=3))
    read(page, "18.42")
    # Within a blink, however slow the machine is.
    page.evaluate(
        """() => {
          document.execCommand("insertText", false, "18.42");
          const enter = {key: "Enter", bubbles: true, cancelable: true};
          document.activeElement.dispatchEvent(new KeyboardEvent("keydown", enter));
        }"""
    )
    expect(page.locator("[name=middle2]")).to_have_value("")
    page.wait_for_timeout(400)
    read(page, "18.42")
    expect(page.locator("[name=middle2]")).to_have_value("18.42")
    expect(page.locator("input:focus")).to_have_attribute("name", "middle3")


def test_all_of_it_works_without_script(
    chromium: Any, live_server: Any, keeper: Person, sixty: Path
) -> None:
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, viewport=PHONE
    )
    context.add_cookies([session_cookie(keeper, live_server.url)])
    page = context.new_page()
    upload(page, sixty)
    page.get_by_role("button", name="Take 60 parts in").click()
    page.get_by_role("link", name="Tolerance and other settings").click()
    page.get_by_label("Tolerance").fill("0.01")
    page.get_by_role("button", name="Pair", exact=True).click()
    few = count_of(page)
    page.get_by_role("button", name=f"Confirm {few} pairs").click()
    expect(page.get_by_role("heading", name=f"{few} pairs confirmed")).to_be_visible()
    batch = bags.make_bench(reading_count=1)
    page.goto(f"/pairing/caliper/{batch.pk}")
    page.locator("[name=middle1]").fill("18.42")
    page.get_by_role("button", name="Take the tyre in").click()
    expect(page.locator("#tyre")).to_have_attribute("data-number", "2")
    context.close()


def test_large_file_shows_its_progress_and_can_be_stopped(
    page_of: Visitor, keeper: Person, tmp_path: Path
) -> None:
    path = tmp_path / "large.csv"
    rows = (f"T{number},18.42,18.44,18.46\n" for number in range(150_000))
    path.write_text("Tag,Ø 1,Ø 2,Ø 3\n" + "".join(rows), encoding="utf-8")
    page = page_of(keeper)
    page.set_default_timeout(60_000)
    upload(page, path, "Large")
    expect(page.locator("progress")).to_be_visible()
    page.reload()  # it is read on, whoever looks
    expect(page.locator("progress")).to_be_visible()
    page.get_by_role("button", name="Stop, and drop the file").click()
    expect(page.get_by_role("heading", name="New batch")).to_be_visible()
    assert not BatchDraft.objects.exists()
    assert not Part.objects.exists()


def make_reading() -> BatchDraft:
    """Make a draft whose file is being read, for as long as a test looks."""
    draft = bags.make_draft("Tag;Ø\nA1;18.4\n")
    draft.state = DraftState.READING
    draft.heard_at = timezone.now()
    draft.save()
    return draft


def test_page_asks_no_more_once_its_file_is_dropped(
    page_of: Visitor, keeper: Person
) -> None:
    address = f"/pairing/drafts/{make_reading().pk}"
    page = page_of(keeper)

    def slowly(route: Route) -> None:
        # It is dropped at once; the answer takes longer than two questions do.
        answer = route.fetch(max_redirects=0)
        time.sleep(2.5)
        route.fulfill(response=answer)

    page.route("**/drop", slowly)
    page.goto(address)
    with page.expect_response(f"**{address}"):
        expect(page.locator("progress")).to_be_visible()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.get_by_role("button", name="Stop, and drop the file").click()
    expect(page.get_by_role("heading", name="New batch")).to_be_visible()
    assert not [url for url in asked if url.endswith(address)]


def test_page_of_a_file_dropped_elsewhere_says_so_and_asks_no_more(
    page_of: Visitor, keeper: Person
) -> None:
    draft = make_reading()
    page = page_of(keeper)
    page.goto(f"/pairing/drafts/{draft.pk}")
    expect(page.locator("progress")).to_be_visible()
    draft.delete()
    expect(page.get_by_text("taken in or dropped meanwhile")).to_be_visible()
    expect(page.get_by_role("button", name="Stop")).to_have_count(0)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.wait_for_timeout(2500)
    assert not asked


@BOTH
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_pages_of_pairing(
    page_of: Visitor, keeper: Person, viewport: dict[str, int], scheme: Any
) -> None:
    made = bags.make_bags()
    faulty = bags.make_draft("Tag;Ø\nA1;18,4x\nA1;-1\nA3;18.4\n")
    page = page_of(keeper, viewport=viewport)
    page.emulate_media(color_scheme=scheme)
    for address in (
        "/pairing",
        "/pairing/new",
        f"/pairing/drafts/{faulty.pk}",
        f"/pairing/of/{made.batch.pk}",
        f"/pairing/caliper/{made.bench.pk}",
        f"/pairing/confirmed/{made.pairing.pk}",
        "/pairs",
        f"/pairs/{made.part_set.tag}",
        f"/pairs/labels?tag={made.part_set.tag}",
        "/draws/new",
        f"/draws/{made.draw.pk}",
    ):
        page.goto(address)
        if page.locator(".settings-open a").is_visible():
            page.locator(".settings-open a").click()
        for fold in page.locator("main details > summary").all():
            fold.click()
        page.wait_for_timeout(200)
        assert_accessible(page)
        wide = "document.documentElement.scrollWidth - innerWidth"
        assert page.evaluate(wide) <= 0, address
