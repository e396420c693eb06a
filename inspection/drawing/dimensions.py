"""
Dimension lines as in ISO 129: arrows, extension lines, values above the line.

A distance too small for arrows inside gets them outside, pointing in.
"""

from inventory.drawing.svg import Drawing, Pen, Point, text_width

ARROW = 6.0
HALF_ARROW = 1.3
OVERSHOOT = 2.5
GAP = 1.5


def arrow_head(drawing: Drawing, tip: Point, towards: Point, *, ink: Pen) -> None:
    """Draw a filled head at ``tip``; ``towards`` is the unit way that it points."""
    (x, y), (dx, dy) = tip, towards
    back = (x - dx * ARROW, y - dy * ARROW)
    drawing.shape(
        ink,
        [
            tip,
            (back[0] - dy * HALF_ARROW, back[1] + dx * HALF_ARROW),
            (back[0] + dy * HALF_ARROW, back[1] - dx * HALF_ARROW),
        ],
    )


def dimension_across(
    drawing: Drawing,
    ends: tuple[Point, Point],
    y: float,
    words: str,
    *,
    marked: bool = False,
) -> None:
    """Dimension a distance across: from two features up or down to a line at y."""
    line, _, text = pens(marked=marked)
    left, right = sorted(ends)
    for x, feature_y in (left, right):
        way = 1 if y > feature_y else -1
        drawing.line(line, (x, feature_y + way * GAP), (x, y + way * OVERSHOOT))
    shown = with_mark(words, marked=marked)
    _arrows_across(drawing, (left[0], right[0]), y, marked=marked)
    if text_width(shown, text) <= right[0] - left[0] + 2 * ARROW:
        centre = (left[0] + right[0]) / 2
        drawing.text(text, (centre, y - 3.5), shown, anchor="middle")
    else:
        drawing.text(text, (right[0] + 2 * ARROW + 4, y + 4), shown)


def _arrows_across(
    drawing: Drawing, ends: tuple[float, float], y: float, *, marked: bool
) -> None:
    line, ink, _ = pens(marked=marked)
    left, right = ends
    inside = right - left >= 2 * ARROW + 4
    tail = 0.0 if inside else 2 * ARROW
    drawing.line(line, (left - tail, y), (right + tail, y))
    arrow_head(drawing, (left, y), (-1 if inside else 1, 0), ink=ink)
    arrow_head(drawing, (right, y), (1 if inside else -1, 0), ink=ink)


def dimension_down(
    drawing: Drawing,
    ends: tuple[Point, Point],
    x: float,
    words: str,
    *,
    marked: bool = False,
) -> None:
    """Dimension a height: from two features sideways to a line at x."""
    line, ink, text = pens(marked=marked)
    top, bottom = sorted(ends, key=lambda point: point[1])
    for feature_x, y in (top, bottom):
        way = 1 if x > feature_x else -1
        drawing.line(line, (feature_x + way * GAP, y), (x + way * OVERSHOOT, y))
    drawing.line(line, (x, top[1]), (x, bottom[1]))
    arrow_head(drawing, (x, top[1]), (0, -1), ink=ink)
    arrow_head(drawing, (x, bottom[1]), (0, 1), ink=ink)
    middle = (x - 3.5, (top[1] + bottom[1]) / 2)
    shown = with_mark(words, marked=marked)
    drawing.text(text, middle, shown, anchor="middle", turn=-90)


def pens(*, marked: bool) -> tuple[Pen, Pen, Pen]:
    """Give line, arrow and figure: thin in ink, or heavy in the accent."""
    if marked:
        return Pen.HEAVY, Pen.ACCENT, Pen.ACCENT_TEXT
    return Pen.THIN, Pen.INK, Pen.VALUE


def ground_line(drawing: Drawing, y: float, *, start: float, end: float) -> None:
    """Draw the block's face, hatched below as a section is."""
    drawing.line(Pen.GROUND, (start, y), (end, y))
    strokes = "".join(
        f"M{x:.0f} {y + 1:.1f}l-5 6" for x in range(int(start) + 8, int(end), 9)
    )
    drawing.path(Pen.HATCH, strokes)


def with_mark(words: str, *, marked: bool) -> str:
    """Put a cross behind a marked figure, for those who do not see its colour."""
    return f"{words} ×" if marked else words
