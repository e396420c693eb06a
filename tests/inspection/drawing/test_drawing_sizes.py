"""The car with the sizes that a form asks for: each size on it, the one in hand lit."""

import xml.etree.ElementTree as ET
from itertools import combinations, product

import pytest

from inspection.compute.fit import MOUNTING_SIZES, needs_of
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.drawing.sizes.pictures import draw_sizes
from inspection.drawing.sizes.table import NAMES, SIZES, View, view_of
from inspection.forms.fit.questions import TypedCarForm
from inspection.forms.jig import JigForm
from tests.inventory.drawings import read

SVG = "{http://www.w3.org/2000/svg}"
#: What is counted, chosen or weighed has no dimension.
NO_LENGTHS = {
    *("layout", "kind", "wanted", "pinion_pitch", "pinion_teeth", "gear_teeth"),
    "stacks",
}


def groups(svg: str) -> dict[str, ET.Element]:
    root = read(svg)
    return {
        one.get("data-size", ""): one
        for one in root.iter(f"{SVG}g")
        if one.get("data-size")
    }


@pytest.mark.parametrize("fields", [TypedCarForm().fields, JigForm().fields])
def test_each_length_that_is_typed_is_on_the_drawing(fields: dict[str, object]) -> None:
    assert set(fields) - NO_LENGTHS <= NAMES


def test_each_room_for_a_part_is_on_the_drawing() -> None:
    assert set(MOUNTING_SIZES) <= NAMES


def test_size_in_hand_alone_is_lit_and_what_is_not_asked_is_left_out() -> None:
    for name in NAMES:
        view = view_of(name)
        assert view is not None
        others = {size.names[0] for size in SIZES if size.view is view}
        drawn = groups(draw_sizes(view, {name, *others}, lit={name}))
        lit = [
            names for names, one in drawn.items() if "is-lit" in one.get("class", "")
        ]
        assert [name in names.split() for names in lit] == [True], name
        (alone,) = groups(draw_sizes(view, {name}))
        assert name in alone.split()


@pytest.mark.parametrize("view", list(View))
def test_every_word_and_arrow_is_inside_the_picture(view: View) -> None:
    svg = draw_sizes(view, NAMES)
    root = read(svg)
    _, _, width, height = map(float, root.get("viewBox", "").split())
    for size in SIZES:
        if size.view is view:
            most = (width, height) if size.is_upright else (height, width)
            assert 0 < size.at < most[0]
            assert 0 < size.ends[0] < size.ends[1] < most[1]


def words_of(svg: str) -> list[tuple[str, float, float, float, float]]:
    """Give each word with its box: left, top, right, bottom."""
    boxes = []
    for one in read(svg).iter(f"{SVG}text"):
        x, y, words = float(one.get("x", "")), float(one.get("y", "")), one.text or ""
        # Letters of 14 units: 7 wide on the average, 10 above their line, 3 below.
        wide = 7 * len(words)
        left = {"middle": x - wide / 2, "end": x - wide}.get(
            one.get("text-anchor", ""), x
        )
        boxes.append((words, left, y - 10, left + wide, y + 3))
    return boxes


def asked_by_forms() -> list[frozenset[str]]:
    of_cars = [
        frozenset(
            need.name
            for question in needs_of(layout, carrier)
            for need in question.needs
        )
        for layout, carrier in product(Layout, FrontCarrier)
    ]
    return [frozenset(TypedCarForm().fields), frozenset(JigForm().fields), *of_cars]


@pytest.mark.parametrize("asked", asked_by_forms())
@pytest.mark.parametrize("view", list(View))
def test_no_word_is_written_over_another(view: View, asked: frozenset[str]) -> None:
    boxes = words_of(draw_sizes(view, asked))
    over = [
        (one[0], other[0])
        for one, other in combinations(boxes, 2)
        if max(one[1], other[1]) + 1 < min(one[3], other[3])
        and max(one[2], other[2]) + 1 < min(one[4], other[4])
    ]
    assert over == []
