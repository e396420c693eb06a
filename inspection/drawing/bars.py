"""Bars side by side, each with its name and its figure."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.drawing.axes import Axis
from inventory.drawing.svg import Drawing, Pen, text_width

WIDTH = 400.0
TOP, ROW, THICK = 24.0, 26.0, 12.0
RIGHT = 392.0
#: A name that is longer is cut, so that a bar keeps half of the width.
LONGEST_NAME = 26
#: More rows than these would be read in the table.
MOST_BARS = 20


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One bar; ``words`` is its figure as it is shown, with its unit."""

    name: str
    value: float
    words: str
    is_marked: bool = False


@dataclass(frozen=True, kw_only=True)
class Bars:
    """Bars from 0; ``full`` is the value of the longest that there can be."""

    title: str
    bars: Sequence[Bar]
    full: float | None = None
    line_at: float | None = None


def draw_bars(bars: Bars) -> str:
    """Draw the first bars below each other, the marked ones hatched."""
    shown = bars.bars[:MOST_BARS]
    height = TOP + ROW * max(len(shown), 1) + 8
    drawing = Drawing(
        WIDTH, height, title=bars.title, description=" ".join(describe(bars))
    )
    drawing.text(Pen.SMALL, (6, 13), bars.title)
    names = [_cut(bar.name) for bar in shown]
    start = 10 + max((text_width(name, Pen.SMALL) for name in names), default=0.0)
    words = max((text_width(bar.words, Pen.TEXT) for bar in shown), default=0.0)
    axis = Axis(low=0.0, high=_full(bars), start=start, end=RIGHT - words - 6)
    for row, (bar, name) in enumerate(zip(shown, names, strict=True)):
        _bar(drawing, axis, TOP + row * ROW, bar, name)
    drawing.line(Pen.THIN, (start, TOP), (start, height - 8))
    if bars.line_at is not None:
        x = axis.at(bars.line_at)
        drawing.line(Pen.CENTRE, (x, TOP - 4), (x, height - 6))
    return drawing.svg()


def describe(bars: Bars) -> list[str]:
    """Say every figure."""
    return [f"{bar.name}: {bar.words}." for bar in bars.bars]


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def _full(bars: Bars) -> float:
    if bars.full is not None:
        return bars.full
    held = [bar.value for bar in bars.bars]
    return max([*held, bars.line_at or 0.0, 1e-9])


def _bar(drawing: Drawing, axis: Axis, y: float, bar: Bar, name: str) -> None:
    middle = y + ROW / 2
    drawing.text(Pen.SMALL, (6, middle + 3.5), name)
    length = axis.at(bar.value) - axis.start
    top = middle - THICK / 2
    drawing.rectangle(Pen.TINT, (axis.start, top), length, THICK)
    if bar.is_marked:
        strokes = "".join(
            f"M{axis.start:.1f} {top + rise:.1f}H{axis.start + length:.1f}"
            for rise in range(2, int(THICK), 4)
        )
        drawing.path(Pen.ACCENT_THIN, strokes)
    place = (axis.start + length + 6, middle + 4)
    drawing.text(Pen.TEXT, place, bar.words)
