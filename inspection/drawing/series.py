"""Values over time: margins of a rule, the wear of a tyre."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.drawing.dimensions import with_mark
from inventory.drawing.axes import Axis, axis_over, draw_axis_up
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, Point, text_width

WIDTH, HEIGHT = 400.0, 220.0
LEFT, RIGHT, TOP, FLOOR = 48.0, 338.0, 34.0, 184.0
#: Four marks that differ by shape; a fifth line would not be told apart.
MOST_LINES = 4


class TooManyLinesError(ValueError):
    """More lines than there are marks to tell them apart."""

    code = "too_many_lines"


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line of points: (when, value), when in any unit that grows."""

    name: str
    points: Sequence[Point]


@dataclass(frozen=True, kw_only=True)
class Chart:
    """Up to four lines, the limits, and words for some of the times."""

    title: str
    lines: Sequence[Line]
    times: Sequence[tuple[float, str]] = ()
    lower: float | None = None
    upper: float | None = None
    unit: str = "mm"
    places: int = 2


def draw_series(chart: Chart) -> str:
    """Draw each line with marks of its own, named at its end."""
    if len(chart.lines) > MOST_LINES:
        msg = f"{len(chart.lines)} lines are too many for one chart."
        raise TooManyLinesError(msg)
    drawing = Drawing(
        WIDTH, HEIGHT, title=chart.title, description=" ".join(describe(chart))
    )
    drawing.text(Pen.SMALL, (6, 13), f"{chart.title}, {chart.unit}")
    across, up = _axes(chart)
    draw_axis_up(drawing, up, across=(LEFT, across.end))
    _times(drawing, chart, across)
    for limit in (chart.lower, chart.upper):
        if limit is not None:
            _limit(drawing, chart, (across, up), limit)
    for index, line in enumerate(chart.lines):
        _line(drawing, chart, (across, up), index, line)
    _names(drawing, chart, (across, up))
    return drawing.svg()


def describe(chart: Chart) -> list[str]:
    """Say where each line starts and ends, and what limits there are."""
    sentences = []
    for line in chart.lines:
        if line.points:
            words = _("%(name)s: from %(first)s to %(last)s %(unit)s.")
            sentences.append(
                words
                % {
                    "name": line.name,
                    "first": shown_number(line.points[0][1], chart.places),
                    "last": shown_number(line.points[-1][1], chart.places),
                    "unit": chart.unit,
                }
            )
    for words, limit in (
        (_("Lower limit %(value)s %(unit)s."), chart.lower),
        (_("Upper limit %(value)s %(unit)s."), chart.upper),
    ):
        if limit is not None:
            shown = shown_number(limit, chart.places)
            sentences.append(words % {"value": shown, "unit": chart.unit})
    return sentences


def _axes(chart: Chart) -> tuple[Axis, Axis]:
    points = [point for line in chart.lines for point in line.points]
    limits = [each for each in (chart.lower, chart.upper) if each is not None]
    times = [point[0] for point in points] + [when for when, word in chart.times]
    values = [point[1] for point in points] + limits
    return (
        axis_over(times, start=LEFT, end=_end(chart)),
        axis_over(values, start=FLOOR, end=TOP, least=10.0**-chart.places),
    )


def _end(chart: Chart) -> float:
    """Give where the lines end, so that the longest name has room behind it."""
    names = [text_width(line.name, Pen.SMALL) for line in chart.lines if line.points]
    return max(min(RIGHT, WIDTH - 40 - max(names, default=0.0)), WIDTH / 2)


def _times(drawing: Drawing, chart: Chart, across: Axis) -> None:
    drawing.line(Pen.THIN, (LEFT, FLOOR), (across.end, FLOOR))
    last = -1e9
    for when, word in chart.times:
        x = across.at(when)
        drawing.line(Pen.THIN, (x, FLOOR), (x, FLOOR + 4))
        # A word that would run into the one before is left out; its tick stays.
        if x - last > (len(word) + 1) * 5.8:
            drawing.text(Pen.SMALL, (x, FLOOR + 16), word, anchor="middle")
            last = x


def _limit(
    drawing: Drawing, chart: Chart, axes: tuple[Axis, Axis], limit: float
) -> None:
    across, up = axes
    y = up.at(limit)
    drawing.line(Pen.LIMIT, (LEFT, y), (across.end, y))
    words = _("limit %(value)s") % {"value": shown_number(limit, chart.places)}
    drawing.text(Pen.VALUE, (LEFT + 4, y - 4), words)


def _line(
    drawing: Drawing, chart: Chart, axes: tuple[Axis, Axis], index: int, line: Line
) -> None:
    across, up = axes
    places = [(across.at(when), up.at(value)) for when, value in line.points]
    if len(places) > 1:
        drawing.line(Pen.HIDDEN if index % 2 else Pen.THIN, *places)
    for place, (_when, value) in zip(places, line.points, strict=True):
        inside = _is_inside(chart, value)
        draw_mark(drawing, place, index, pen=Pen.INK if inside else Pen.ACCENT)


def _is_inside(chart: Chart, value: float) -> bool:
    above = chart.lower is None or value >= chart.lower
    return above and (chart.upper is None or value <= chart.upper)


def draw_mark(drawing: Drawing, place: Point, index: int, *, pen: Pen) -> None:
    """Draw the mark of a line: spot, square, triangle, diamond."""
    x, y = place
    if index == 0:
        drawing.circle(pen, place, 3)
    elif index == 1:
        drawing.rectangle(pen, (x - 2.8, y - 2.8), 5.6, 5.6)
    elif index == 2:
        drawing.shape(pen, [(x, y - 3.8), (x + 3.6, y + 2.6), (x - 3.6, y + 2.6)])
    else:
        drawing.shape(pen, [(x, y - 4), (x + 4, y), (x, y + 4), (x - 4, y)])


def _names(drawing: Drawing, chart: Chart, axes: tuple[Axis, Axis]) -> None:
    """Name the lines at their ends, pushed apart where they end together."""
    across, up = axes
    ends = [
        (up.at(line.points[-1][1]), index, line)
        for index, line in enumerate(chart.lines)
        if line.points
    ]
    free = TOP
    for end, index, line in sorted(ends, key=lambda each: each[0]):
        y = max(end, free)
        free = y + 14
        draw_mark(drawing, (across.end + 10, y), index, pen=Pen.INK)
        last = line.points[-1][1]
        words = with_mark(line.name, marked=not _is_inside(chart, last))
        drawing.text(Pen.SMALL, (across.end + 17, y + 3.5), words)
