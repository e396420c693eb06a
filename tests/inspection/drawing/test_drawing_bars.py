"""Bars: as long as their figures, named, and marked where something is outside."""

import pytest

from inspection.drawing.bars import MOST_BARS, Bar, Bars, draw_bars
from inspection.drawing.series import Chart, Line, draw_series
from tests.inventory.drawings import assert_well_made, described, read, with_pen, words

NAMESPACE = "{http://www.w3.org/2000/svg}"


def bars(*values: float, **said: object) -> Bars:
    rows = [
        Bar(name=f"Rule {at}", value=value, words=f"{value:g} %")
        for at, value in enumerate(values)
    ]
    return Bars(title="Admitted", bars=rows, **said)  # type: ignore[arg-type]


def lengths(svg: str) -> list[float]:
    return [float(one.get("width", "0")) for one in with_pen(svg, "d-tint")]


@pytest.mark.parametrize("count", [0, 1, 5, 60])
def test_bars_are_well_made_however_many(count: int) -> None:
    svg = draw_bars(bars(*[50.0] * count))
    assert_well_made(svg)
    assert len(lengths(svg)) == min(count, MOST_BARS)


def test_bars_are_as_long_as_their_figures() -> None:
    whole, half, none = lengths(draw_bars(bars(100, 50, 0, full=100.0)))
    assert half == pytest.approx(whole / 2, abs=0.01)
    assert none == 0


def test_longest_bar_has_the_whole_length_unless_said() -> None:
    short, long = lengths(draw_bars(bars(1, 4)))
    assert short == pytest.approx(long / 4, abs=0.01)


def test_every_figure_is_written_and_described() -> None:
    svg = draw_bars(bars(97.5, 12))
    for part in ("Rule 0", "97.5 %", "Rule 1", "12 %"):
        assert part in words(svg)
    assert described(svg) == "Rule 0: 97.5 %. Rule 1: 12 %."


def test_long_name_is_cut() -> None:
    row = Bar(name="A" * 60, value=1, words="1")
    shown = words(draw_bars(Bars(title="Long", bars=[row])))
    assert "A" * 25 + "…" in shown
    assert "A" * 27 not in shown


def test_marked_bar_is_hatched() -> None:
    row = Bar(name="Rule", value=90, words="90 %", is_marked=True)
    assert with_pen(draw_bars(Bars(title="Marked", bars=[row])), "d-accent-thin")
    assert not with_pen(draw_bars(bars(90)), "d-accent-thin")


def test_line_stands_where_it_is_said_to() -> None:
    svg = draw_bars(bars(2, line_at=1.0))
    (line,) = with_pen(svg, "d-centre")
    (bar,) = with_pen(svg, "d-tint")
    x = float(line.get("d", "").split()[0].lstrip("M"))
    start, width = float(bar.get("x", "0")), float(bar.get("width", "0"))
    assert x == pytest.approx(start + width / 2, abs=0.02)


@pytest.mark.parametrize("name", ["A", "Night Prototypes", "B" * 60])
def test_name_at_the_end_of_a_line_has_room(name: str) -> None:
    """Letters of small text are guessed 5.8 px wide, on the wide side."""
    svg = draw_series(
        Chart(title="Margins", lines=[Line(name=name, points=[(0, 1), (1, 2)])])
    )
    assert_well_made(svg)
    places = [
        float(text.get("x", "0"))
        for text in read(svg).iter(f"{NAMESPACE}text")
        if text.text == name
    ]
    assert places
    assert places[0] >= 200
    if len(name) < 20:
        assert places[0] + 5.8 * len(name) <= 400
