"""The sheet on screen and on paper: one A4 page that says all a record has to say."""

import io
import re
from pathlib import Path
from unicodedata import normalize

import pypdf
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page, expect

from inspection.actions.race_nights import call_back
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.asking import Area
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.night.entries import Decision
from inspection.compute.quantities import QUANTITIES
from inspection.compute.rulebooks.requirements import Answer, Evidence
from inspection.models import Seal, Sheet
from inventory.compute.numbers.units import Unit
from inventory.models import Club as Home
from tests import builders
from tests.browser import race_night
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.browser.race_night import GOOD, RULES, Club

#: A4 in points, to the point.
A4 = (595, 842)
#: As long as a rule's sentence usually is.
LONG = "measured as the picture shows, the car standing on its own weight on the block."


@pytest.fixture
def club(transactional_db: None) -> Club:
    return race_night.make_club()


def sealed(club: Club, decision: Decision, **changed: str) -> Sheet:
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, {**GOOD, **changed})
    seal_sheet(sheet.number, decision=decision, act=race_night.now(club.anna))
    return Sheet.objects.get(pk=sheet.pk)


def printed(page: Page, sheet: Sheet, tmp_path: Path) -> pypdf.PdfReader:
    """Print as the browser does: its own paper size and margins, no backgrounds."""
    page.goto(f"/sheet/{sheet.number}")
    file = tmp_path / "sheet.pdf"
    page.pdf(path=file, prefer_css_page_size=True, print_background=False)
    return pypdf.PdfReader(file)


def words_of(reader: pypdf.PdfReader) -> str:
    # Letters that the type draws as one are letters again.
    text = normalize("NFKC", "\n".join(p.extract_text() for p in reader.pages))
    return " ".join(text.split())


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_usual_car_is_one_a4_page_with_all_that_a_record_holds(
    page_of: Visitor, club: Club, tmp_path: Path, viewport: dict[str, int]
) -> None:
    """17020:2012 7.4.2 a to g, and 17025 7.8.6.2."""
    sheet = sealed(club, Decision.SENT_BACK, width_rear="64.20")
    reader = printed(page_of(club.anna, viewport=viewport), sheet, tmp_path)
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (round(box.width), round(box.height)) == A4
    words = words_of(reader)
    entry, seal = sheet.entry, Seal.objects.get()
    assert seal.sealed_by.name == "Anna Quill"
    for said in (
        sheet.number,
        str(entry.night),
        "The hall",
        entry.car.name,
        entry.race_class.name,
        entry.car.owner.name,
        "before the race",
        "Block one",
        "Club rules, edition 1",
        sheet.edition.sha256[:16],
        "Sent back. The car as presented breaks rule 3.4",
        "must be at most 64.00 mm; it is 64.20 mm, 0.20 mm too much",
        "this car only, as it was presented",
        "simple acceptance",
        "admitted when it is inside the limit or on it",
        "Guard band 1.645 u, 95 % one-sided",
        "all by Anna Quill",
        "caliper",
        "permissible error 0.020 mm",
        "last check tonight passed",
        "Wheelbase, left 95.02 mm",
        "stored geometry",
        f"Sealed by {seal.sealed_by}",
        seal.sha256,
        "Feelerbook 0.1.0",
        "1 / 1",
    ):
        assert said in words, said
    for text in (t for t in GOOD.values() if t not in {"yes", "63.41"}):
        assert text in words, text
    # A stop stands behind its word at once.
    assert re.findall(r"\S+ [;.,](?: |$)", words) == []
    for banned in ("Sign out", "Print", "As the device"):
        assert banned not in words


def test_twenty_rules_with_long_sentences_and_twenty_readings_fit_one_page(
    page_of: Visitor, transactional_db: None, tmp_path: Path
) -> None:
    more = [
        builders.rule("5.1", "guide_depth", upper=8),
        builders.rule("5.2", "body_width", upper=70, evidence=Evidence.TAKEN_ONLY),
        builders.rule("5.3", "chassis_width", upper=50),
        builders.rule("5.4", "body_marked", required=Answer.YES),
    ]
    rules = [race_night.with_sentence(rule, LONG) for rule in [*RULES, *more]]
    club = race_night.make_club(rules)
    extra = {
        "guide_depth": "6.50",
        "body_width": "68.10",
        "chassis_width": "42.30",
        "body_marked": "yes",
    }
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, {**GOOD, **extra})
    seal_sheet(sheet.number, decision=Decision.PASSED, act=race_night.now(club.anna))
    reader = printed(page_of(club.anna), sheet, tmp_path)
    assert len(reader.pages) == 1
    words = words_of(reader)
    labels = [QUANTITIES[rule.quantity].label for rule in sheet.edition.rules.all()]
    assert len(labels) == 20
    assert not [label for label in labels if f"{label}: " not in words]
    assert "Passed. The car as presented meets every mandatory rule listed" in words
    # Among all sheets of the night it is a page as well, as that page says.
    page = page_of(club.anna)
    page.goto(f"/night/{club.night.pk}/sheets")
    file = tmp_path / "sheets.pdf"
    page.pdf(path=file, prefer_css_page_size=True, print_background=False)
    assert len(pypdf.PdfReader(file).pages) == 1


@pytest.mark.parametrize(
    ("decision_rule", "at_the_limit"),
    [
        (DecisionRule.SIMPLE_ACCEPTANCE, "inside the limit or on it."),
        (DecisionRule.GUARDED_ACCEPTANCE, "at the limit is not admitted."),
        (DecisionRule.GUARDED_REJECTION, "A value exactly at the limit is allowed."),
    ],
)
def test_sheet_says_how_a_value_at_the_limit_is_treated(
    page_of: Visitor,
    transactional_db: None,
    decision_rule: DecisionRule,
    at_the_limit: str,
) -> None:
    """Q5; the value is put exactly at the limit, and judged as the sheet says."""
    club = race_night.make_club(
        [builders.rule("1", "weight_car", lower=80)], decision_rule=decision_rule
    )
    sheet = race_night.make_sheet(club)
    race_night.take(club, sheet, {"weight_car": "80.0"})
    page = page_of(club.anna)
    page.goto(f"/sheet/{sheet.number}")
    expect(page.locator(".record-statement")).to_contain_text(at_the_limit)
    row = page.locator(".record-findings tbody tr")
    expect(row).to_contain_text("Conditional pass")
    page.goto(f"/sheet/{sheet.number}/block")
    is_admitted = decision_rule is not DecisionRule.GUARDED_ACCEPTANCE
    buttons = page.locator("#seal-passed")
    expect(buttons).to_have_count(int(is_admitted))


def test_code_on_the_page_leads_to_the_page(
    page_of: Visitor, club: Club, tmp_path: Path
) -> None:
    """Read by an independent reader, from a picture of the page as printed."""
    sheet = sealed(club, Decision.PASSED)
    page = page_of(club.anna)
    page.goto(f"/sheet/{sheet.number}")
    # Another device would look for a loopback address in itself.
    expect(page.locator(".record-qr")).to_have_count(0)
    said = {"name": "The club", "address": "http://desk.example/"}
    Home.objects.update_or_create(pk=1, defaults=said)
    page.reload()
    page.emulate_media(media="print", color_scheme="dark")
    page.set_viewport_size({"width": 718, "height": 1047})
    picture = Image.open(io.BytesIO(page.screenshot(full_page=True)))
    (code,) = zxingcpp.read_barcodes(picture)
    path = code.text.removeprefix("http://desk.example")
    assert path == f"/sheet/{sheet.number}"
    page.goto(path)
    expect(page.get_by_role("heading", level=1)).to_contain_text(sheet.number)


def test_printed_sheet_is_dark_on_light_in_both_themes(
    page_of: Visitor, club: Club
) -> None:
    """U14."""
    sheet = sealed(club, Decision.PASSED)
    page = page_of(club.anna)
    page.emulate_media(media="print", color_scheme="dark")
    page.goto(f"/sheet/{sheet.number}")
    picture = Image.open(io.BytesIO(page.screenshot())).convert("L")
    dark, light = sum(picture.histogram()[:60]), sum(picture.histogram()[200:])
    assert dark > 0
    assert light > 0.85 * picture.width * picture.height


def test_recheck_names_what_it_replaces_and_the_first_says_replaced(
    page_of: Visitor, club: Club, tmp_path: Path
) -> None:
    """Q4: both reachable from either."""
    first = sealed(club, Decision.SENT_BACK, width_rear="64.20")
    call_back(first.entry.pk, act=race_night.now(club.anna))
    second = start_sheet(
        first.entry.pk,
        block=club.block,
        changed={Area.REAR_AXLE},
        act=race_night.now(club.anna),
    )
    page = page_of(club.anna)
    page.goto(f"/sheet/{second.number}")
    page.get_by_role("link", name=first.number).click()
    decision = page.locator(".record-result")
    expect(decision).to_contain_text(f"replaced by sheet {second.number}")
    assert f"replaced by sheet {second.number}" in words_of(
        printed(page, first, tmp_path)
    )
    page.get_by_role("link", name=second.number).click()
    expect(page.locator(".record-readings")).to_contain_text(
        f"carried over from {first.number}"
    )


def test_struck_and_unchecked_readings_say_so_on_paper(
    page_of: Visitor, club: Club, tmp_path: Path
) -> None:
    """Q3 and Q6."""
    sheet = race_night.make_sheet(club)
    club.gauges["scale"] = builders.make_gauge(unit=Unit.GRAM)
    race_night.take(club, sheet, GOOD)
    race_night.take(club, sheet, {"weight_car": "98.5"}, by=club.bert)
    race_night.strike(sheet, "98.5", "a breath on the scale", by=club.bert)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=race_night.now(club.anna))
    words = words_of(printed(page_of(club.anna), sheet, tmp_path))
    assert "struck by Bert Ash: a breath on the scale" in words
    assert "no check that evening" in words
    assert "Anna Quill" in words


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_sheet_is_accessible_at_every_width(
    page_of: Visitor, club: Club, scheme: str
) -> None:
    sheet = sealed(club, Decision.SENT_BACK, width_rear="64.20")
    page = page_of(club.anna)
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    for viewport in ({"width": 320, "height": 640}, PHONE, DESK):
        page.set_viewport_size(viewport)  # type: ignore[arg-type]
        page.goto(f"/sheet/{sheet.number}")
        assert not scrolls_sideways(page)
        assert_accessible(page)
        # Each figure with its doubt, on the smallest phone as well.
        expect(
            page.locator(".record-findings tbody td:nth-child(4)").first
        ).to_be_visible()
