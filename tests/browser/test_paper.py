"""Each page that is printed, as PDF: its words and how many leaves it takes."""

from io import BytesIO
from unicodedata import normalize

import pypdf

from deploy.demo.rulebooks import FOLDER
from inspection.actions.exchange import import_edition
from inspection.actions.night.notices import hang_notice
from inspection.actions.rulebooks import publish_edition
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision, NoticeKind
from inspection.files.rulebooks import read_rulebook
from tests.browser import race_night
from tests.browser.conftest import Visitor
from tests.browser.race_night import GOOD


def test_each_printed_page_has_its_words_on_its_leaves(
    transactional_db: None, page_of: Visitor
) -> None:
    club = race_night.make_club()
    act = race_night.now(club.chief)
    sealed = []
    for wide, decision in (("63.41", "passed"), ("64.20", "sent back")):
        sheet = race_night.make_sheet(club)
        race_night.take(club, sheet, {**GOOD, "width_rear": wide})
        seal_sheet(sheet.number, decision=Decision(decision), act=act)
        sealed.append(sheet)
    hang_notice("Block Two rests.", kind=NoticeKind.NOTICE, act=act)
    car = sheet.entry.car
    night = f"/night/{club.night.pk}"
    printed = {
        f"/sheet/{sheet.number}": (1, ["Breaks rule 3.4", "Cleo Marsh"]),
        f"/cars/{car.tag}/practice": (1, [car.name]),
        f"{night}/sheets": (2, [one.number for one in sealed]),
        f"{night}/list": (1, [one.number for one in sealed]),
        f"{night}/report": (1, [one.number for one in sealed]),
        f"{night}/dry-run": (1, [car.name]),
        f"{night}/blank": (2, ["Weight", "Width over the tyres, rear", "Sign"]),
        "/notices": (1, ["Block Two rests."]),
        "/notices/how": (1, ["How we measure here", "Weight"]),
    }
    page = page_of(club.chief)
    wrong = []
    for address, (leaves, words) in printed.items():
        page.goto(address)
        file = page.pdf(prefer_css_page_size=True, print_background=False)
        reader = pypdf.PdfReader(BytesIO(file))
        # Letters that the type draws as one are letters again.
        said = normalize("NFKC", " ".join(one.extract_text() for one in reader.pages))
        said = " ".join(said.split())
        wrong += [f"{address} lacks {one}" for one in words if one not in said]
        if len(reader.pages) != leaves:
            wrong.append(f"{address}: {len(reader.pages)} leaves, not {leaves}")
    assert wrong == []


def test_how_we_measure_is_one_leaf_with_a_picture_of_each_thing(
    transactional_db: None, page_of: Visitor
) -> None:
    """A rulebook that asks for two dozen things, to be hung up as one A4."""
    club = race_night.make_club()
    act = race_night.now(club.chief)
    text = read_rulebook((FOLDER / "edition_2.json").read_bytes())
    edition = import_edition(text, adds_classes=True, act=act)
    publish_edition(edition.pk, act=act)
    page = page_of(club.anna)
    page.goto("/notices/how")
    asked = page.locator(".how").last.locator("> li")
    assert asked.count() > 20
    assert page.locator(".how").last.locator("> li svg").count() == asked.count()
    reader = pypdf.PdfReader(BytesIO(page.pdf(prefer_css_page_size=True)))
    # One for each rulebook that the club has.
    assert len(reader.pages) == 2
