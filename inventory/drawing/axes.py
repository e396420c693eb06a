"""An axis of numbers: where its ticks are, and from numbers to pixels."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen

_STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, kw_only=True)
class Axis:
    """A straight scale from ``low`` at pixel ``start`` to ``high`` at ``end``."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Give the pixel of a value; values beyond the ends stay at the ends."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + min(max(share, 0.0), 1.0) * (self.end - self.start)

    def step(self, most: int = 6) -> float:
        """Give the round step that makes at most so many ticks."""
        rough = (self.high - self.low) / most
        power = 10.0 ** math.floor(math.log10(rough))
        return next(k * power for k in _STEPS if k * power >= rough * (1 - 1e-9))

    def ticks(self, most: int = 6) -> list[float]:
        """Give round values inside the axis."""
        step = self.step(most)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [index * step for index in range(first, last + 1)]

    def places(self, most: int = 6) -> int:
        """Give the decimals that the ticks need."""
        return max(0, -math.floor(math.log10(self.step(most)) + 1e-9))


def axis_over(
    values: Iterable[float], *, start: float, end: float, least: float = 1e-3
) -> Axis:
    """Make an axis that holds all values with a margin, never of no length."""
    held = list(values)
    low, high = (min(held), max(held)) if held else (0.0, 1.0)
    room = max(0.06 * (high - low), least)
    return Axis(low=low - room, high=high + room, start=start, end=end)


def draw_axis_across(
    drawing: Drawing, axis: Axis, y: float, *, words: str = "", most: int = 6
) -> None:
    """Draw an axis across with ticks, their values below and its name at the end."""
    drawing.line(Pen.THIN, (axis.start, y), (axis.end, y))
    places = axis.places(most)
    for value in axis.ticks(most):
        drawing.line(Pen.THIN, (axis.at(value), y), (axis.at(value), y + 4))
    for value in axis.ticks(most):
        label = shown_number(value, places)
        drawing.text(Pen.SMALL, (axis.at(value), y + 15), label, anchor="middle")
    if words:
        drawing.text(Pen.SMALL, (axis.end, y + 28), words, anchor="end")


def draw_axis_up(
    drawing: Drawing, axis: Axis, *, across: tuple[float, float], most: int = 5
) -> None:
    """Draw thin lines across at the ticks of an axis that goes up."""
    left, right = across
    for value in axis.ticks(most):
        drawing.line(Pen.GUIDE, (left, axis.at(value)), (right, axis.at(value)))
    places = axis.places(most)
    for value in axis.ticks(most):
        place = (left - 5, axis.at(value) + 3.5)
        drawing.text(Pen.SMALL, place, shown_number(value, places), anchor="end")
