"""Call-outs: as few rows as can be, no words meet, no leader crosses words."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from inspection.drawing.callouts import Callout, call_out, height_of, places
from inspection.drawing.dimensions import dimension_across, dimension_down
from inventory.drawing.svg import Drawing
from tests.inventory.drawings import assert_well_made, with_pen, words

WIDTH = 400.0


def callout(x: float, name: str = "gear") -> Callout:
    return Callout(x=x, top=90.0, words=name, value="0.74")


@given(st.sets(st.integers(110, 290).map(lambda x: x // 6 * 6), min_size=1, max_size=4))
def test_callouts_keep_clear_of_each_other(xs: set[int]) -> None:
    """Where words have room on both sides of their leader, none need meet."""
    found = places([callout(x) for x in xs], WIDTH)
    for one, other in combinations(found, 2):
        if one.row == other.row:
            assert one.end <= other.start or other.end <= one.start
        else:
            deep, shallow = (one, other) if one.row > other.row else (other, one)
            assert not shallow.start < deep.x < shallow.end
    assert all(place.start >= 0 and place.end <= WIDTH for place in found)


def test_callouts_far_apart_share_one_row() -> None:
    assert {place.row for place in places([callout(60), callout(330)], WIDTH)} == {0}
    assert height_of([], WIDTH) == 0


def test_callouts_that_cannot_all_stand_clear_are_stacked() -> None:
    crowd = [callout(x, "a rather long name for a gap") for x in (195, 200, 205)]
    narrow = places(crowd, 240.0)
    assert sorted(place.row for place in narrow) == [0, 1, 2]


def test_small_gap_has_its_arrows_outside_pointing_in() -> None:
    drawing = Drawing(WIDTH, 160, title="t")
    call_out(drawing, [Callout(x=100, top=97, words="gear", value="0.74")], ground=100)
    heads = [e.get("d", "") for e in with_pen(drawing.svg(), "d-ink")]
    # The tips stand on the gap's two ends, the backs beyond them.
    assert heads[0].startswith("M100 97L")
    assert " 91L" in heads[0]
    assert heads[1].startswith("M100 100L")
    assert " 106L" in heads[1]


def test_wide_gap_has_its_arrows_inside() -> None:
    drawing = Drawing(WIDTH, 160, title="t")
    call_out(drawing, [Callout(x=100, top=60, words="nose", value="9.9")], ground=100)
    heads = [e.get("d", "") for e in with_pen(drawing.svg(), "d-ink")]
    assert " 66L" in heads[0]
    assert " 94L" in heads[1]


def test_dimension_too_short_for_its_words_has_them_beside() -> None:
    drawing = Drawing(WIDTH, 160, title="t")
    dimension_across(drawing, ((100, 80), (104, 80)), 40, "1.00")
    dimension_across(drawing, ((200, 20), (300, 20)), 40, "25.00", marked=True)
    dimension_down(drawing, ((20, 20), (20, 120)), 10, "25.00", marked=True)
    svg = drawing.svg()
    assert_well_made(svg)
    assert words(svg) == "1.00 | 25.00 × | 25.00 ×"
    (beside,) = (e for e in with_pen(svg, "d-value"))
    assert float(beside.get("x", "0")) > 104
