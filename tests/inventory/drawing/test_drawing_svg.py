import pytest

from inventory.drawing.axes import Axis, axis_over, draw_axis_across, draw_axis_up
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, pixels
from tests.inventory.drawings import assert_well_made, described, read, with_pen, words


def test_drawing_escapes_what_people_wrote() -> None:
    drawing = Drawing(10, 10, title='<b> & "x"', description="a < b")
    drawing.text(Pen.TEXT, (1, 2), "<script>alert(1)</script>")
    drawing.label((1, 2), "Gear & axle", "<1", Pen.VALUE)
    svg = drawing.svg()
    assert_well_made(svg)
    assert words(svg) == "<script>alert(1)</script> | Gear & axle <1"
    assert read(svg).get("aria-label") == '<b> & "x"'
    assert described(svg) == "a < b"


def test_drawing_groups_what_one_pen_draws_in_a_row() -> None:
    drawing = Drawing(10, 10, title="t")
    drawing.line(Pen.LINE, (0, 0), (1, 1))
    drawing.circle(Pen.LINE, (1, 1), 2)
    drawing.rectangle(Pen.INK, (1, 1), 2, 3)
    drawing.line(Pen.LINE, (0, 0), (1, 1))
    svg = drawing.svg()
    assert [g.get("class") for g in read(svg) if g.get("class")] == [
        "d-line",
        "d-ink",
        "d-line",
    ]
    assert len(with_pen(svg, "d-line")) == 3


def test_every_pen_has_attributes_that_work_without_a_style_sheet() -> None:
    for pen in Pen:
        drawing = Drawing(10, 10, title="t")
        drawing.line(pen, (0, 0), (1, 1))
        (group,) = (g for g in read(drawing.svg()) if g.get("class") == pen)
        assert group.get("fill")


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (1.0, "1"),
        (-0.001, "0"),
        (0.0, "0"),
        (100.0, "100"),
        (1.256, "1.26"),
        (-2.5, "-2.5"),
    ],
)
def test_pixels_are_short(value: float, written: str) -> None:
    assert pixels(value) == written


@pytest.mark.parametrize(
    ("value", "places", "signed", "written"),
    [
        (-0.001, 2, False, "0.00"),
        (-0.006, 2, False, "−0.01"),
        (0.1, 2, True, "+0.10"),
        (0.0, 2, True, "0.00"),
        (None, 2, False, "–"),
        (float("nan"), 2, False, "–"),
        (187.44, 1, False, "187.4"),
        (12.0, 0, False, "12"),
    ],
)
def test_number_is_shown_rounded_with_a_true_minus(
    value: float | None,
    places: int,
    signed: bool,  # noqa: FBT001
    written: str,
) -> None:
    assert shown_number(value, places, signed=signed) == written


def test_axis_ticks_are_round_and_inside() -> None:
    axis = Axis(low=0.13, high=1.04, start=0, end=100)
    assert axis.ticks() == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])
    assert axis.places() == 1
    assert Axis(low=0, high=5000, start=0, end=1).places() == 0


def test_axis_keeps_values_beyond_it_at_its_ends() -> None:
    axis = Axis(low=0, high=10, start=50, end=150)
    assert axis.at(-1) == 50
    assert axis.at(11) == 150
    assert axis.at(2.5) == pytest.approx(75)


@pytest.mark.parametrize("values", [[], [3.0], [3.0, 3.0], [1.0, 2.0]])
def test_axis_over_values_is_never_of_no_length(values: list[float]) -> None:
    axis = axis_over(values, start=0, end=100)
    assert axis.high > axis.low
    assert all(axis.low < value < axis.high for value in values)


def test_axes_write_their_ticks() -> None:
    drawing = Drawing(100, 100, title="t")
    axis = Axis(low=0, high=1, start=0, end=100)
    draw_axis_across(drawing, axis, 50)
    draw_axis_up(drawing, axis, across=(10, 90))
    assert "0.2" in words(drawing.svg())
