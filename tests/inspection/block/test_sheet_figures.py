"""A sheet's figures: a value and its uncertainty end at one place."""

import re
from html import unescape

import pytest
from django.test import Client
from django.utils.html import strip_tags

from inventory.compute.roles import Role
from tests import builders

pytestmark = pytest.mark.django_db


def cells_of(page: str, number: str) -> tuple[str, str]:
    """Give the value and the uncertainty of a rule's row on the record."""
    row = next(
        row
        for row in re.findall(r"<tr.*?</tr>", page, re.DOTALL)
        if re.search(rf'<th scope="row">\s*{number}\s*</th>\s*<td class="sentence', row)
    )
    cells = re.findall(r'<td class="number[^"]*">(.*?)</td>', row, re.DOTALL)
    value, u = ("".join(unescape(strip_tags(cell)).split()) for cell in cells[:2])
    return value, u


@pytest.mark.parametrize("text", ["18.42", "18.4"])
def test_value_and_u_end_at_one_place(text: str) -> None:
    rules = (builders.rule("1", "tyre_diameter_rear", lower=17.5),)
    night = builders.make_night(builders.make_edition(rules))
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    gauge = builders.make_gauge()
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", text, gauge=gauge)
    client = Client()
    client.force_login(builders.make_person(Role.SCRUTINEER))
    page = client.get(f"/sheet/{sheet.number}").content.decode()
    value, u = cells_of(page, "1")
    # Two significant digits (JCGM 100 7.2.6): 0.035, of a reading to 0.01.
    assert re.fullmatch(r"0\.0[1-9][0-9]", u)
    assert re.fullmatch(r"18\.4[0-9]{2}mm", value)
    assert page.count("u is the standard uncertainty of the value") == 1
