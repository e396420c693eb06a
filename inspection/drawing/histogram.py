"""How a field of cars spreads about a rule's limits."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.drawing.axes import Axis, draw_axis_across
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen

WIDTH, HEIGHT = 400.0, 220.0
TOP, FLOOR = 46.0, 180.0


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Counts between edges (one edge more than counts), and the limits."""

    title: str
    edges: Sequence[float]
    counts: Sequence[int]
    lower: float | None = None
    upper: float | None = None
    outside: int | None = None
    unit: str = "mm"
    places: int = 2


def draw_histogram(spread: Spread) -> str:
    """Draw bars with the limits on them; what lies outside is hatched."""
    drawing = Drawing(
        WIDTH, HEIGHT, title=spread.title, description=" ".join(describe(spread))
    )
    drawing.text(Pen.SMALL, (6, 13), spread.title)
    tallest = max(spread.counts, default=0)
    if not tallest:
        middle = (WIDTH / 2, (TOP + FLOOR) / 2)
        drawing.text(Pen.TEXT, middle, _("No car has this value yet."), anchor="middle")
        return drawing.svg()
    axis = _axis(spread)
    for index, count in enumerate(spread.counts):
        _bar(drawing, axis, spread, (index, count * (FLOOR - TOP) / tallest))
    for limit in (spread.lower, spread.upper):
        if limit is not None:
            _limit(drawing, axis, spread, limit)
    draw_axis_across(drawing, axis, FLOOR, words=spread.unit)
    words = ngettext(
        "tallest bar: %(count)s car", "tallest bar: %(count)s cars", tallest
    )
    drawing.text(Pen.SMALL, (6, HEIGHT - 6), words % {"count": tallest})
    return drawing.svg()


def describe(spread: Spread) -> list[str]:
    """Say what the histogram shows."""
    total = sum(spread.counts)
    cars = ngettext("%(count)s car.", "%(count)s cars.", total) % {"count": total}
    sentences = [cars]
    for words, limit in (
        (_("Lower limit %(value)s %(unit)s."), spread.lower),
        (_("Upper limit %(value)s %(unit)s."), spread.upper),
    ):
        if limit is not None:
            shown = shown_number(limit, spread.places)
            sentences.append(words % {"value": shown, "unit": spread.unit})
    if spread.outside is not None:
        words = ngettext(
            "%(count)s car is outside.", "%(count)s cars are outside.", spread.outside
        )
        sentences.append(words % {"count": spread.outside})
    return sentences


def _axis(spread: Spread) -> Axis:
    limits = [each for each in (spread.lower, spread.upper) if each is not None]
    held = [*spread.edges, *limits]
    low, high = min(held), max(held)
    room = max(0.03 * (high - low), 10.0**-spread.places)
    return Axis(low=low - room, high=high + room, start=14, end=WIDTH - 14)


def _bar(drawing: Drawing, axis: Axis, spread: Spread, bar: tuple[int, float]) -> None:
    index, height = bar
    if height <= 0:
        return
    left, right = axis.at(spread.edges[index]), axis.at(spread.edges[index + 1])
    drawing.rectangle(Pen.TINT, (left, FLOOR - height), right - left, height)
    if spread.lower is not None:
        _hatch(drawing, (left, min(right, axis.at(spread.lower))), height)
    if spread.upper is not None:
        _hatch(drawing, (max(left, axis.at(spread.upper)), right), height)


def _hatch(drawing: Drawing, across: tuple[float, float], height: float) -> None:
    """Hatch the part of a bar beyond a limit with lines across, by the dozen."""
    left, right = across
    if right <= left:
        return
    strokes = "".join(
        f"M{left:.1f} {FLOOR - rise:.1f}H{right:.1f}"
        for rise in range(2, int(height) + 1, 4)
    )
    drawing.path(Pen.ACCENT_THIN, strokes or f"M{left:.1f} {FLOOR - 1:.1f}H{right:.1f}")


def _limit(drawing: Drawing, axis: Axis, spread: Spread, limit: float) -> None:
    x = axis.at(limit)
    drawing.line(Pen.LIMIT, (x, TOP - 12), (x, FLOOR + 2))
    words = _("limit %(value)s") % {"value": shown_number(limit, spread.places)}
    anchor = "end" if x > WIDTH - 50 else "start" if x < 50 else "middle"
    drawing.text(Pen.VALUE, (x, TOP - 16), words, anchor=anchor)
