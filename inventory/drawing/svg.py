"""
An SVG picture, element by element.

Coordinates are pixels of the view box, x to the right and y down.  What is drawn
with one pen in a row shares a group, so that a picture of many lines stays small.
The style sheet colours the pens by class; the same is written as attributes, which
a policy without inline styles allows, so that a picture stands alone as well.
"""

from collections.abc import Iterable, Sequence
from enum import StrEnum
from xml.sax.saxutils import escape, quoteattr

Point = tuple[float, float]


class Pen(StrEnum):
    """What a line is for, by the line types of ISO 128."""

    OUTLINE = "d-outline"
    LINE = "d-line"
    THIN = "d-thin"
    GUIDE = "d-guide"
    HIDDEN = "d-hidden"
    CENTRE = "d-centre"
    GROUND = "d-ground"
    HATCH = "d-hatch"
    TINT = "d-tint"
    RUBBER = "d-rubber"
    INK = "d-ink"
    LIMIT = "d-limit"
    ACCENT = "d-accent"
    ACCENT_THIN = "d-accent-thin"
    HEAVY = "d-heavy"
    FLAG = "d-flag"
    ACCENT_SMALL = "d-accent-small"
    HAND = "d-hand"
    HAND_LINE = "d-hand-line"
    HAND_THIN = "d-hand-thin"
    TEXT = "d-text"
    SMALL = "d-small"
    VALUE = "d-value"
    ACCENT_TEXT = "d-accent-text"


def _stroke(colour: str, width: float, *, fill: str = "none", dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'fill="{fill}" stroke="{colour}" stroke-width="{width}"{dashes}'


_INK, _PAPER, _ACCENT = "#17212b", "#fcfcf8", "#94260a"
_ATTRIBUTES = {
    Pen.OUTLINE: _stroke(_INK, 1.5, fill=_PAPER),
    Pen.LINE: _stroke(_INK, 1.5),
    Pen.THIN: _stroke(_INK, 0.6),
    Pen.GUIDE: _stroke("#cfd4d3", 0.75),
    Pen.HIDDEN: _stroke(_INK, 0.8, dash="4 2.5"),
    Pen.CENTRE: _stroke(_INK, 0.6, dash="10 2.5 2 2.5"),
    Pen.GROUND: _stroke(_INK, 1.5),
    Pen.HATCH: _stroke("#717c85", 0.6),
    Pen.TINT: _stroke(_INK, 1, fill="#f2f3ee"),
    Pen.RUBBER: _stroke(_INK, 1.5, fill="#cfd4d3"),
    Pen.INK: f'fill="{_INK}"',
    # A limit, whether it is kept or not; what breaks it is flagged.
    Pen.LIMIT: _stroke(_INK, 2, dash="9 3"),
    Pen.ACCENT: f'fill="{_ACCENT}"',
    Pen.ACCENT_THIN: _stroke(_ACCENT, 0.8),
    Pen.HEAVY: _stroke(_ACCENT, 2.4),
    Pen.FLAG: _stroke(_ACCENT, 1.4, dash="5 3"),
    Pen.ACCENT_SMALL: f'fill="{_ACCENT}" font-size="10.5"',
    # The size in hand: what a picture shows how to measure.
    Pen.HAND: f'fill="{_INK}"',
    Pen.HAND_LINE: _stroke(_INK, 3),
    Pen.HAND_THIN: _stroke(_INK, 1.2),
    Pen.TEXT: f'fill="{_INK}" font-size="11"',
    Pen.SMALL: 'fill="#4d5963" font-size="10"',
    Pen.VALUE: f'fill="{_INK}" font-size="12.5" font-weight="600"',
    Pen.ACCENT_TEXT: f'fill="{_ACCENT}" font-size="12.5" font-weight="600"',
}
_LETTER_WIDTH = {Pen.TEXT: 6.4, Pen.SMALL: 5.8, Pen.VALUE: 7.8, Pen.ACCENT_TEXT: 7.8}


def pixels(value: float) -> str:
    """Write a coordinate, to a hundredth of a pixel."""
    written = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if written == "-0" else written


def text_width(words: str, pen: Pen) -> float:
    """Guess how wide words come out, on the wide side of the common faces."""
    return len(words) * _LETTER_WIDTH[pen]


class Drawing:
    """A picture in the making; ``svg()`` writes it out."""

    def __init__(
        self,
        width: float,
        height: float,
        *,
        title: str,
        description: str = "",
        has_failing: bool = False,
    ) -> None:
        self.width = width
        self.height = height
        self.title = title
        self.description = description
        self.has_failing = has_failing
        self._groups: list[tuple[Pen, list[str]]] = []

    def add(self, pen: Pen, element: str) -> None:
        """Add a finished element, into the group of its pen."""
        if not self._groups or self._groups[-1][0] is not pen:
            self._groups.append((pen, []))
        self._groups[-1][1].append(element)

    def path(self, pen: Pen, steps: str) -> None:
        self.add(pen, f'<path d="{steps}"/>')

    def line(self, pen: Pen, *points: Point) -> None:
        self.path(pen, "M" + "L".join(_pair(point) for point in points))

    def shape(self, pen: Pen, points: Sequence[Point]) -> None:
        self.path(pen, "M" + "L".join(_pair(point) for point in points) + "z")

    def rectangle(self, pen: Pen, corner: Point, width: float, height: float) -> None:
        x, y = corner
        self.add(
            pen,
            f'<rect x="{pixels(x)}" y="{pixels(y)}" '
            f'width="{pixels(width)}" height="{pixels(height)}"/>',
        )

    def circle(self, pen: Pen, centre: Point, radius: float) -> None:
        x, y = centre
        self.add(
            pen, f'<circle cx="{pixels(x)}" cy="{pixels(y)}" r="{pixels(radius)}"/>'
        )

    def text(
        self,
        pen: Pen,
        place: Point,
        words: str,
        *,
        anchor: str = "start",
        turn: float = 0,
        has_halo: bool = False,
    ) -> None:
        """
        Write words; ``turn`` in degrees, −90 reads from the right (ISO 129).

        With a halo they break the lines that they are written over (ISO 129).
        """
        x, y = pixels(place[0]), pixels(place[1])
        where = f' text-anchor="{anchor}"' if anchor != "start" else ""
        if turn:
            where += f' transform="rotate({pixels(turn)} {x} {y})"'
        if has_halo:
            where += ' class="d-halo"'
        self.add(pen, f'<text x="{x}" y="{y}"{where}>{escape(words)}</text>')

    def label(self, place: Point, words: str, figure: str, pen: Pen) -> None:
        """Write words and, behind them, a figure in its own pen."""
        x, y = pixels(place[0]), pixels(place[1])
        self.add(
            Pen.TEXT,
            f'<text x="{x}" y="{y}">{escape(words)} '
            f'<tspan class="{pen}" {_ATTRIBUTES[pen]}>{escape(figure)}</tspan></text>',
        )

    def svg(self) -> str:
        """Write the picture, its title and description first."""
        title = f"<title>{escape(self.title)}</title>"
        words = f"<desc>{escape(self.description)}</desc>" if self.description else ""
        return (
            '<svg xmlns="http://www.w3.org/2000/svg" '
            f'class="draw{" has-failing" if self.has_failing else ""}" role="img" '
            f"aria-label={quoteattr(self.title)} "
            f'viewBox="0 0 {pixels(self.width)} {pixels(self.height)}" '
            'font-family="system-ui, sans-serif">'
            f"{title}{words}{''.join(_groups(self._groups))}</svg>"
        )


def _pair(point: Point) -> str:
    return f"{pixels(point[0])} {pixels(point[1])}"


def _groups(groups: Iterable[tuple[Pen, list[str]]]) -> Iterable[str]:
    for pen, elements in groups:
        yield f'<g class="{pen}" {_ATTRIBUTES[pen]}>{"".join(elements)}</g>'
