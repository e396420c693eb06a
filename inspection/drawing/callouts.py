"""
Gaps over the ground, drawn true and called out below it with leaders.

A gap of a few tenths of a millimetre is a pixel or two on a drawing to scale: its
arrows come from outside and its value stands where there is room, at the end of a
leader that crosses no other words.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from inspection.drawing.dimensions import ARROW, arrow_head, pens, with_mark
from inventory.drawing.svg import Drawing, Pen, text_width

ROW = 17.0
CLEAR = 5.0


@dataclass(frozen=True, kw_only=True)
class Callout:
    """A gap from ``top`` down to the ground at ``x``, in pixels, and its words."""

    x: float
    top: float
    words: str
    value: str
    marked: bool = False

    @property
    def width(self) -> float:
        """Room that the words and the value take."""
        words = text_width(self.words + " ", Pen.TEXT)
        return words + text_width(self.figure, Pen.VALUE)

    @property
    def figure(self) -> str:
        """The value, with a cross behind it when it is marked."""
        return with_mark(self.value, marked=self.marked)


@dataclass(frozen=True, kw_only=True)
class _Place:
    x: float
    row: int
    start: float
    end: float

    def meets(self, other: "_Place") -> bool:
        """Say whether words meet words, or either's leader the other's words."""
        if self.row == other.row:
            return self.start < other.end + CLEAR and other.start < self.end + CLEAR
        deep, shallow = (self, other) if self.row > other.row else (other, self)
        return shallow.start - CLEAR < deep.x < shallow.end + CLEAR


def places(callouts: Sequence[Callout], width: float) -> list[_Place]:
    """Find the fewest rows on which all the callouts stand without meeting."""
    for rows in range(1, len(callouts) + 1):
        placed = next(_placed(callouts, width, rows), None)
        if placed is not None:
            return placed
    # No drawing of the car comes here; stacked, the words are at least all legible.
    return [
        _Place(x=each.x, row=row, start=CLEAR, end=CLEAR + each.width)
        for row, each in enumerate(callouts)
    ]


def _placed(
    callouts: Sequence[Callout], width: float, rows: int
) -> Iterator[list[_Place]]:
    if not callouts:
        yield []
        return
    for rest in _placed(callouts[1:], width, rows):
        for place in _choices(callouts[0], width, rows):
            if not any(place.meets(other) for other in rest):
                yield [place, *rest]


def _choices(callout: Callout, width: float, rows: int) -> Iterator[_Place]:
    for row in range(rows):
        for start in (callout.x + 4, callout.x - 4 - callout.width):
            end = start + callout.width
            if start >= CLEAR and end <= width - CLEAR:
                yield _Place(x=callout.x, row=row, start=start, end=end)


def height_of(callouts: Sequence[Callout], width: float) -> float:
    """Height below the ground that the callouts take on a drawing so wide."""
    rows = max((place.row + 1 for place in places(callouts, width)), default=0)
    return rows * ROW


def call_out(
    drawing: Drawing,
    callouts: Sequence[Callout],
    *,
    ground: float,
    width: float | None = None,
) -> None:
    """Draw the arrows at each gap, its leader, and its value below the hatching."""
    room = drawing.width if width is None else width
    for callout, place in zip(callouts, places(callouts, room), strict=True):
        line, _, figure = pens(marked=callout.marked)
        _gap_arrows(drawing, callout, ground)
        baseline = ground + 10 + (place.row + 1) * ROW - 4
        drawing.line(line, (callout.x, ground), (callout.x, baseline + 1))
        drawing.label((place.start, baseline), callout.words, callout.figure, figure)


def _gap_arrows(drawing: Drawing, callout: Callout, ground: float) -> None:
    line, ink, _ = pens(marked=callout.marked)
    x, top = callout.x, callout.top
    inside = ground - top >= 2 * ARROW + 2
    tail = top if inside else top - 2 * ARROW
    drawing.line(line, (x, tail), (x, ground))
    arrow_head(drawing, (x, top), (0, -1 if inside else 1), ink=ink)
    arrow_head(drawing, (x, ground), (0, 1 if inside else -1), ink=ink)
