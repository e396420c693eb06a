"""The hall display on a large screen: nothing to scroll, read from ten metres."""

import math

import pytest
from django.db.models import CharField, Value
from django.db.models.functions import Concat
from playwright.sync_api import expect

from inspection.actions.night.blocks import add_block
from inspection.actions.sheets import start_sheet
from inspection.compute.night import EntryState
from inspection.models import Entry, RaceNight
from tests import builders
from tests.browser.conftest import Visitor
from tests.browser.hands import assert_accessible

#: A screen of 55 inches, 16 to 9, is 1.218 m wide.
SCREEN_MM = 55 * 25.4 * 16 / math.hypot(16, 9)
TEN_METRES_MM = 10_000
#: The least for comfortable reading, in minutes of arc: ISO 9241-303, from memory.
LEAST_ARC = 16
#: A figure's height over its type's size, DejaVu and Liberation alike: from memory.
FIGURE = 0.72


def crowd(width: int) -> RaceNight:
    """Give a night of 80 cars with numbers of so many figures."""
    night = builders.make_night()
    for name in ("By the window", "On the stage", "Door"):
        block = add_block(name, act=builders.act())
        entry = builders.make_entry(night=night)
        start_sheet(entry.pk, block=block, changed=(), act=builders.act())
    states = [EntryState.WAITING, EntryState.PASSED, EntryState.SENT_BACK]
    entries = [builders.make_entry(night=night) for _ in range(77)]
    # Out of the way first: a number is one car's.
    Entry.objects.update(number=Concat(Value("x"), "pk", output_field=CharField()))
    for place, entry in enumerate(night.entries.filter(state=EntryState.ON_BLOCK)):
        Entry.objects.filter(pk=entry.pk).update(
            number=str(9 * 10 ** (width - 1) + place)
        )
    for place, entry in enumerate(entries):
        number = str(10 ** (width - 1) + place)
        Entry.objects.filter(pk=entry.pk).update(number=number, state=states[place % 3])
    return night


@pytest.mark.parametrize("width", [2, 3])
def test_hall_never_scrolls_and_is_read_from_ten_metres(
    page_of: Visitor, transactional_db: None, width: int
) -> None:
    crowd(width)
    page = page_of()
    for across, down in ((1920, 1080), (3840, 2160)):
        page.set_viewport_size({"width": across, "height": down})
        page.goto("/hall")
        expect(page.locator(".hall section")).to_have_count(4)
        hidden = page.evaluate(
            """() => [document.scrollingElement, ...document.querySelectorAll(
                 ".hall section, .hall b")].filter(
                 e => e.scrollHeight > e.clientHeight + 1 && e.tagName !== "B"
                 || e.scrollWidth > e.clientWidth + 1).map(e => e.outerHTML)"""
        )
        assert hidden == []
        sizes = page.evaluate(
            """() => [...document.querySelectorAll(".hall b")].map(
                 e => parseFloat(getComputedStyle(e).fontSize))"""
        )
        figure_mm = min(sizes) * FIGURE / across * SCREEN_MM
        arc = math.degrees(math.atan(figure_mm / TEN_METRES_MM)) * 60
        assert arc >= LEAST_ARC
        assert_accessible(page)


def test_hall_follows_by_itself(page_of: Visitor, transactional_db: None) -> None:
    night = builders.make_night()
    entry = builders.make_entry(night=night)
    page = page_of()
    page.goto("/hall")
    expect(page.locator(".on b")).to_have_count(0)
    start_sheet(entry.pk, block=None, changed=(), act=builders.act())
    expect(page.locator(".on b")).to_have_text(entry.number)
