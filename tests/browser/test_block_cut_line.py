"""The block's queue on a line that is cut both ways: nothing lost, nothing twice."""

from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from inspection.models import SheetReading
from tests.browser import race_night
from tests.browser.conftest import Visitor
from tests.browser.hands import columns_asked, open_block, unsent, wait_until_sent
from tests.builders import rule
from tests.faults.cut_line import Cut, cut_line

SIZES = {
    "body_width": "70.52",
    "width_rear": "62.41",
    "width_front": "61.13",
    "guide_depth": "6.27",
    "body_height": "30.35",
    "chassis_width": "40.44",
}
CUTS = (Cut.REQUEST, Cut.NOWHERE, Cut.ANSWER, Cut.NOWHERE, Cut.HALF, Cut.ANSWER)


@pytest.mark.django_db(transaction=True)
def test_readings_come_once_and_in_order_over_a_line_that_is_cut_both_ways(
    page_of: Visitor, live_server: LiveServer
) -> None:
    """An answer that is lost after the commit is asked for again, not written again."""
    club = race_night.make_club(
        [rule(str(n), key, lower=0) for n, key in enumerate(SIZES)]
    )
    sheet = race_night.make_sheet(club)
    to = urlsplit(live_server.url).port
    assert to is not None
    with cut_line(to, ending="/reading", cuts=CUTS) as line:
        page = page_of(club.anna, address=f"http://localhost:{line.port}")
        open_block(page, sheet)
        columns = columns_asked(page)
        texts = [SIZES[column] for column in columns]
        assert sorted(texts) == sorted(SIZES.values())
        page.keyboard.type(texts[0] + "\r")
        # Nothing has come through: what was typed is said to wait.
        expect(page.locator("#line")).to_contain_text("waiting to be sent")
        for text in texts[1:]:
            page.keyboard.type(text + "\r")
        # The page is left and come back to with answers outstanding.
        page.wait_for_function(UNTIL_LOST, arg=len(texts) - 1)
        page.reload()
        wait_until_sent(page, timeout_s=60)
        assert unsent(page) == 0
        page.reload()
        expect(page.locator("#bench-ask")).to_have_text(
            "Everything asked tonight is taken."
        )
        page.goto("about:blank")
    assert tuple(line.done[: len(CUTS)]) == CUTS
    rows = SheetReading.objects.order_by("id").values_list("column", "text")
    assert list(rows) == list(zip(columns, texts, strict=True))


#: So many readings, or fewer, are still on the device.
UNTIL_LOST = """most => Object.keys(localStorage).filter(
  key => key.startsWith("feelerbook-reading/")).length <= most"""
