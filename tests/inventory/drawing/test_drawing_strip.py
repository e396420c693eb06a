import random

import pytest

from inventory.drawing.strip import MOST_MARKS, Strip, StripGroup, draw_strip
from tests.inventory.drawings import (
    assert_well_made,
    corners,
    described,
    with_pen,
    words,
)

#: Issue 3: five thousand tyres, at most 600 KiB.
MOST_BYTES = 600 * 1024


def group(size_um: list[int], *, name: str = "soft") -> StripGroup:
    """Pair every other neighbour in order of size, leave the last over."""
    order = sorted(range(len(size_um)), key=size_um.__getitem__)
    pairs = list(zip(order[:-1:2], order[1::2], strict=False))
    paired = {index for pair in pairs for index in pair}
    return StripGroup(
        name=name,
        size_um=size_um,
        pairs=pairs,
        leftover=[index for index in order if index not in paired],
        rejected_um=[size_um[0] + 310],
    )


def test_strip_draws_each_pair_as_two_spots_and_a_link() -> None:
    svg = draw_strip(Strip(groups=[group([20100, 20400, 20140])], tolerance_um=50))
    assert_well_made(svg)
    spots = [e for e in with_pen(svg, "d-ink") if e.tag.endswith("circle")]
    links = [e for e in with_pen(svg, "d-ink") if e.tag.endswith("rect")]
    # One pair here and one in the legend.
    assert len(spots) == 4
    assert len(links) == 2
    assert "paired 2" in words(svg)
    assert "left over 1" in words(svg)
    assert "rejected 1" in words(svg)
    assert described(svg) == "soft: 1 pair, 1 left over, 1 rejected."


def test_strip_link_is_as_long_as_the_difference() -> None:
    svg = draw_strip(Strip(groups=[group([20000, 20200])], tolerance_um=100))
    straight = [e for e in with_pen(svg, "d-line") if "L" in e.get("d", "")]
    (start, _), (end, _) = corners(straight[0])
    link = [e for e in with_pen(svg, "d-ink") if e.tag.endswith("rect")][-1]
    # 200 µm apart against a tolerance of 100 µm: twice the bar's length.
    assert float(link.get("width", "0")) == pytest.approx(2 * (end - start), abs=0.05)


def test_strip_tells_kinds_apart_by_shape() -> None:
    svg = draw_strip(Strip(groups=[group([20000, 20010, 20900])], tolerance_um=50))
    triangles = with_pen(svg, "d-outline")
    assert all(e.get("d", "").endswith("z") for e in triangles)
    assert len(triangles) == 2
    crosses = [e for e in with_pen(svg, "d-line") if e.get("d", "").count("M") == 2]
    assert len(crosses) == 2


def test_strip_marks_of_like_size_do_not_hide_each_other() -> None:
    svg = draw_strip(Strip(groups=[group([20000] * 7)], tolerance_um=50))
    spots = [e for e in with_pen(svg, "d-ink") if e.tag.endswith("circle")][2:]
    heights = {e.get("cy") for e in spots}
    assert len(heights) == 3
    rings = [e for e in with_pen(svg, "d-ink") if "A" in e.get("d", "")]
    assert len(rings) == 3


def test_strip_of_five_thousand_tyres_is_bars_and_small() -> None:
    chance = random.Random(7)
    sizes = [round(chance.gauss(20400, 250)) for _ in range(5000)]
    svg = draw_strip(Strip(groups=[group(sizes)], tolerance_um=50))
    assert len(svg.encode()) <= MOST_BYTES
    assert_well_made(svg)
    assert "tallest bar" in words(svg)
    assert "paired 5000" in words(svg)


def test_strip_just_below_the_most_marks_draws_them_all() -> None:
    chance = random.Random(8)
    sizes = [round(chance.gauss(20400, 250)) for _ in range(MOST_MARKS - 1)]
    svg = draw_strip(Strip(groups=[group(sizes)], tolerance_um=50))
    assert "tallest bar" not in words(svg)
    assert len(svg.encode()) <= MOST_BYTES


def test_strip_bars_add_up_to_the_counts() -> None:
    chance = random.Random(9)
    sizes = [round(chance.gauss(20400, 250)) for _ in range(600)]
    rejected = [20000 + 7 * index for index in range(40)]
    many = StripGroup(
        name="hard",
        size_um=sizes,
        pairs=[(i, i + 1) for i in range(0, 500, 2)],
        leftover=list(range(500, 600)),
        rejected_um=rejected,
    )
    svg = draw_strip(Strip(groups=[many]))
    bars = [e for e in with_pen(svg, "d-ink") if e.get("height") != "1.4"]
    left = [e for e in with_pen(svg, "d-outline") if e.tag.endswith("rect")]
    crossed = [e for e in with_pen(svg, "d-line") if e.tag.endswith("rect")]
    heights = [
        sum(float(e.get("height", "0")) for e in found)
        for found in (bars, left, crossed)
    ]
    assert heights[0] / heights[1] == pytest.approx(5.0, rel=0.01)
    assert heights[1] / heights[2] == pytest.approx(2.5, rel=0.01)


def test_strip_names_its_groups() -> None:
    strip = Strip(groups=[group([20000, 20010]), group([20000], name="hard <2>")])
    assert "hard <2>" in words(draw_strip(strip))


def test_strip_of_nothing_says_so() -> None:
    svg = draw_strip(Strip(groups=[StripGroup(name="", size_um=[])], tolerance_um=50))
    assert_well_made(svg)
    assert "No tyre is measured yet." in words(svg)
    assert "Tyres: 0 pairs" in described(svg)
    assert "No tyre is measured yet." in words(draw_strip(Strip()))
