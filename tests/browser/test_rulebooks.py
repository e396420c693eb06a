"""A rulebook in Chromium: written, tried, its limit moved, published, raced by."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from inspection.loaders.rulebooks.editions import rule_text
from inspection.models import Edition, Rule
from tests import builders
from tests.browser import race_night
from tests.browser.conftest import PHONE, Visitor, session_cookie
from tests.browser.hands import assert_accessible, scrolls_sideways
from tests.browser.race_night import RULES, Club
from tests.inspection.sealed_cars import seal_car

FEW = tuple(rule for rule in RULES if rule.number in {"1.1", "3.1", "4.2"})


@pytest.fixture
def club(transactional_db: None) -> Club:
    """Give a club with three cars sealed tonight, of 90, 95 and 98.3 g."""
    club = race_night.make_club(FEW)
    for weight in ("90.0", "95.0", "98.3"):
        seal_car(club, {"weight_car": weight})
    return club


def write_body_rule(page: Page) -> None:
    page.get_by_role("link", name="Write a rule").click()
    page.get_by_label("Number").fill("5.1")
    page.get_by_label("Quantity").select_option("weight_body")
    # Where it is measured stands beside it at once.
    expect(page.locator("#quantity")).to_contain_text("Weight of the body")
    page.get_by_label("Sentence").fill("The body weighs 17 g or more.")
    page.get_by_label("Lower limit", exact=True).fill("17")
    page.get_by_role("button", name="Keep the rule").click()
    page.wait_for_url(re.compile(r"/rulebooks/edition/\d+$"))


def test_rule_is_written_tried_moved_published_and_asked_on_the_block(
    page_of: Visitor, club: Club
) -> None:
    page = page_of(club.chief)
    page.goto("/rulebooks")
    page.get_by_role("link", name="Edition 1", exact=True).click()
    page.get_by_role("button", name="New draft from it").click()
    page.wait_for_url(re.compile(r"/rulebooks/edition/\d+$"))
    write_body_rule(page)
    draft = Edition.objects.drafts().get()
    assert rule_text(draft.rules.get(number="5.1")).lower == 17_000_000

    page.get_by_role("link", name="Try on every car").click()
    expect(page.get_by_role("main")).to_contain_text("3 cars")
    page.get_by_role("link", name="4.2 Weight, ready to race").click()
    move_the_weight(page)
    page.get_by_role("button", name="Write it into the draft").click()
    expect(page.locator("#status")).to_contain_text("at least 94.0 g")
    expect(page.get_by_role("main")).to_contain_text("4.2 short by 4.0 g")

    page.goto(f"/rulebooks/edition/{draft.pk}/publish")
    expect(page.get_by_role("main")).to_contain_text(
        "Lower limit: 80.0 g → 94.0 g (stricter)"
    )
    page.get_by_label(club.night.name).check()
    page.get_by_role("button", name="Publish", exact=True).click()
    page.wait_for_url(re.compile(rf"/rulebooks/edition/{draft.pk}$"))
    draft.refresh_from_db()
    expect(page.locator(".checksum")).to_have_text(draft.sha256)
    expect(page.get_by_role("link", name="Write a rule")).to_have_count(0)

    sheet = race_night.make_sheet(club)
    block = page_of(club.anna)
    block.goto(f"/sheet/{sheet.number}/block")
    expect(block.get_by_role("main")).to_contain_text("Weight of the body")


def move_the_weight(page: Page) -> None:
    """Move the limit by the slider, by the keys and by a number."""
    typed, refused = page.get_by_label("Lower limit", exact=True), "#refused-moved"
    slider = page.get_by_role("slider", name="Lower limit")
    expect(page.locator(refused)).to_have_text("0")
    slider.fill("96.0")
    expect(typed).to_have_value("96.0")
    expect(page.locator(refused)).to_have_text("2")
    expect(page.locator("#tried svg.draw")).to_contain_text("limit 96.0")
    slider.press("ArrowLeft")
    expect(typed).to_have_value("95.9")
    typed.fill("94")
    expect(page.locator(refused)).to_have_text("1")
    expect(page.locator("#tried")).to_contain_text("Cars that the move changes")
    # The address says where the limit stands, and can be shared.
    expect(page).to_have_url(re.compile("lower=94"))
    page.get_by_label("Share to admit").fill("60")
    expect(page.locator("#tried")).to_contain_text("2 of 3 cars")


def test_limit_that_is_no_number_is_named_and_kept(
    page_of: Visitor, club: Club
) -> None:
    row = Rule.objects.get(number="4.2")
    page = page_of(club.chief)
    page.goto(f"/rulebooks/rule/{row.pk}/trial")
    page.get_by_label("Lower limit", exact=True).fill("heavy")
    expect(page.locator("#tried .form-errors")).to_contain_text("heavy")
    expect(page.get_by_label("Lower limit", exact=True)).to_have_value("heavy")


def test_file_goes_from_one_club_to_another_with_its_checksum(
    page_of: Visitor, club: Club, tmp_path: Path
) -> None:
    page = page_of(club.chief)
    edition = Edition.objects.get()
    page.goto(f"/rulebooks/edition/{edition.pk}")
    with page.expect_download() as started:
        page.get_by_role("link", name="File", exact=True).click()
    file = tmp_path / "rules.json"
    started.value.save_as(file)
    spoilt = tmp_path / "spoilt.json"
    spoilt.write_bytes(file.read_bytes().replace(b'"unit":"g"', b'"unit":"kg"'))
    page.goto("/rulebooks/import")
    page.get_by_label("File", exact=True).set_input_files(spoilt)
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator(".field-error").first).to_contain_text("/rules/2/unit: “kg”")
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("main")).to_contain_text("the same to the digit")
    expect(page.locator(".checksum")).to_have_text(edition.sha256)
    expect(page.get_by_role("main")).to_contain_text("Both say the same, to the digit.")


def test_pages_need_no_script(
    club: Club, chromium: Browser, live_server: LiveServer
) -> None:
    """A limit is moved by a form, and a quantity looked at by a button."""
    row = Rule.objects.get(number="4.2")
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    context.add_cookies([session_cookie(club.chief, live_server.url)])
    page = context.new_page()
    page.goto(f"/rulebooks/rule/{row.pk}/trial")
    assert page.get_by_role("slider").count() == 0
    page.get_by_label("Lower limit", exact=True).fill("94")
    page.get_by_role("button", name="Try", exact=True).click()
    expect(page.locator("#refused-moved")).to_have_text("1")
    draft = builders.make_edition(FEW, published=False)
    page.goto(f"/rulebooks/edition/{draft.pk}/rule")
    page.get_by_label("Quantity").select_option("clearance_gear")
    page.get_by_role("button", name="Show where it is measured").click()
    expect(page.locator("#quantity")).to_contain_text("Gear to track")
    expect(page.get_by_label("Quantity")).to_have_value("clearance_gear")
    context.close()


@pytest.mark.parametrize("viewport", [PHONE, None], ids=["phone", "desk"])
def test_pages_are_accessible_and_do_not_scroll_sideways(
    page_of: Visitor, club: Club, viewport: dict[str, int] | None
) -> None:
    draft = builders.make_edition(
        [*FEW, builders.rule("9", "weight_car", upper=79)], published=False
    )
    published = Edition.objects.published().get()
    row = draft.rules.get(number="4.2")
    page = page_of(club.chief, viewport=viewport)
    day = club.night.date.isoformat()
    for address in (
        "/rulebooks",
        "/rulebooks/new",
        "/rulebooks/import",
        f"/rulebooks/edition/{draft.pk}",
        f"/rulebooks/edition/{draft.pk}/settings",
        f"/rulebooks/edition/{draft.pk}/publish",
        f"/rulebooks/edition/{draft.pk}/trial",
        f"/rulebooks/edition/{draft.pk}/beside/{published.pk}",
        f"/rulebooks/edition/{draft.pk}/rule",
        f"/rulebooks/rule/{row.pk}",
        f"/rulebooks/rule/{row.pk}/trial?lower=94",
        f"/season?start={day}&end={day}",
    ):
        page.goto(address)
        assert_accessible(page)
        assert not scrolls_sideways(page), address


def test_trial_and_blank_sheet_are_read_down_a_phone(
    page_of: Visitor, club: Club
) -> None:
    """Each figure under its own heading, and nothing of a table off the side."""
    draft = builders.make_edition(FEW, published=False)
    page = page_of(club.chief, viewport={"width": 360, "height": 740})
    for address in (
        f"/rulebooks/edition/{draft.pk}/trial",
        f"/rulebooks/rule/{draft.rules.get(number='4.2').pk}/trial?lower=94",
        f"/night/{club.night.pk}/blank",
    ):
        page.goto(address)
        frames = page.locator(".table-frame:has(tbody tr)").evaluate_all(
            "all => all.map(e => e.scrollWidth - e.clientWidth)"
        )
        assert frames, address
        assert max(frames) <= 0, address
        assert not scrolls_sideways(page), address
    first = page.locator(".blank-table td").first
    assert "First" in first.evaluate("e => getComputedStyle(e, '::before').content")
