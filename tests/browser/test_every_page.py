"""
Each page of the program, on the smallest phone, with the lights off.

In a language of longer words than ours, so that another has room too.
"""

import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client

from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders
from tests.architecture.test_permissions import asked_of, make_club
from tests.browser.conftest import Visitor
from tests.browser.hands import scrolls_sideways
from tests.browser.long_words import LONGER, lengthen, speak_in_long_words

pytestmark = pytest.mark.django_db(transaction=True)

SMALL = {"width": 320, "height": 640}
# What a page fetches for itself when it is there, it has put in its place.
AT_REST = "() => !document.querySelector('.htmx-request, [hx-trigger=load]')"

FILLED_IN = r"%\(\w+\)[a-z]|<[^>]*>|{{.*?}}"
#: Gives the texts that stick out of their own box, or are cut off by it.
CUT_OFF = """() => {
  const texts = [];
  const isHidden = one => !one.checkVisibility() || [".visually-hidden", "thead"].some(
    name => getComputedStyle(one.closest(name) || one).clipPath.startsWith("inset"));
  for (const one of document.querySelectorAll("body *")) {
    if (one.closest("svg, .top-name") || !one.clientWidth || isHidden(one)) continue;
    const words = [...one.childNodes].filter(
      child => child.nodeType === Node.TEXT_NODE && child.data.trim());
    const style = getComputedStyle(one);
    const scrolls = way => way === "auto" || way === "scroll";
    if (!words.length || style.display === "inline") continue;
    const wide = one.scrollWidth > one.clientWidth + 1 && !scrolls(style.overflowX);
    const cuts = style.overflowY === "hidden" || style.overflowY === "clip";
    const high = cuts && one.scrollHeight > one.clientHeight + 1;
    if (wide || high) texts.push(words[0].data.trim().slice(0, 60));
  }
  return texts;
}"""


def addresses(person: Person) -> Iterator[tuple[str, frozenset[str | None]]]:
    """Give each address that answers with a whole page, and what writes it."""
    client = Client()
    client.force_login(person)
    for _, row, method, address in asked_of(make_club()):
        if method != "get" or row.get is None:
            continue
        answer = client.get(address)
        is_html = answer.headers.get("Content-Type", "").startswith("text/html")
        if answer.status_code == 200 and is_html and b"<html" in answer.content:
            yield address, frozenset(one.name for one in answer.templates)


def test_every_page_can_be_read_on_a_small_phone_in_the_dark(
    page_of: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    person = builders.make_person(*Role)
    page = page_of(person, viewport=SMALL)
    page.emulate_media(color_scheme="dark")
    found = list(addresses(person))
    assert len(found) > 60
    wrong = []
    speak_in_long_words(monkeypatch)
    # Two addresses that the same templates write, to the last piece, are one page to
    # a reader of the screen.
    read = set()
    for address, written_by in found:
        page.goto(address)
        page.wait_for_function(AT_REST)
        wrong += [f"{address} cuts off: {one}" for one in page.evaluate(CUT_OFF)]
        if scrolls_sideways(page):
            wrong.append(f"{address} scrolls sideways")
        if written_by in read:
            continue
        read.add(written_by)
        axe = Axe().run(page)
        wrong += [f"{address} {one['id']}" for one in axe.response["violations"]]
    assert not wrong


def test_long_words_are_two_fifths_longer_and_keep_what_is_filled_in() -> None:
    for said in ("Next page", "On", "Measured on %(date)s, <b>%(n)d</b> × {{ n }}"):
        longer = lengthen(said)
        assert re.findall(FILLED_IN, longer) == re.findall(FILLED_IN, said)
        plain, more = (len(re.sub(FILLED_IN, "", one)) for one in (said, longer))
        assert more == plain + round((LONGER - 1) * plain)
