"""A gap over the ground, magnified, with the limit that it does not keep."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.drawing.callouts import Callout
from inspection.drawing.car import CarFigures
from inspection.drawing.dimensions import arrow_head
from inspection.words.quantities import column_name
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen

#: Room that an inset takes at the right of a view.
WIDTH = 92.0
#: A gap from here on is seen on the drawing itself.
LARGEST_MM = 2.0
_TALLEST = 46.0
_MAGNIFIED = (50, 20, 10, 5, 2)
#: What is seen from behind, and what from the side.
REAR_GAPS = (
    "clearance_gear",
    "clearance_motor",
    "clearance_rear",
    "ride_height_rear",
    "clearance_least",
    "twist",
    "clearance_front",
    "ride_height_front",
    "clearance_body",
    "clearance_magnet",
)
SIDE_GAPS = (
    "clearance_front",
    "ride_height_front",
    "clearance_rear",
    "ride_height_rear",
    "clearance_least",
    "clearance_magnet",
    "clearance_body",
)


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A gap that fails, in millimetres, and the limit that it does not keep."""

    column: str
    value: float
    limit: float
    is_least: bool


def gap_to_magnify(car: CarFigures, gaps: Iterable[str] = REAR_GAPS) -> Gap | None:
    """Give the first gap that fails and is too small to be seen on the drawing."""
    for column in gaps:
        value = car.of(column)
        if column not in car.failing or value is None or abs(value) >= LARGEST_MM:
            continue
        lower, upper = car.limits.get(column, (None, None))
        gap = abs(value) if column == "twist" else value
        if lower is not None and value < lower and column != "twist":
            return Gap(column=column, value=gap, limit=lower, is_least=True)
        if upper is not None:
            return Gap(column=column, value=gap, limit=upper, is_least=False)
    return None


def ring_gaps(drawing: Drawing, callouts: Iterable[Callout], *, ground: float) -> None:
    """Ring the gaps that fail, which the inset shows larger."""
    for one in callouts:
        if one.marked:
            middle = (one.x, (one.top + ground) / 2)
            drawing.circle(Pen.HEAVY, middle, max(9.0, (ground - one.top) / 2 + 4))


def draw_inset(
    drawing: Drawing, gap: Gap, *, car: CarFigures, scale: float, ground: float
) -> None:
    """Draw a gap from its part down to the ground, so many times larger."""
    times = _times(gap, scale)
    per_mm = times * scale
    left, right = drawing.width - WIDTH + 4, drawing.width - 2
    top = ground - _TALLEST - 26
    part, limit = ground - gap.value * per_mm, ground - gap.limit * per_mm
    drawing.text(Pen.SMALL, (left, top - 17), _("%(n)s × larger") % {"n": times})
    drawing.text(Pen.SMALL, (left, top - 4), _part_words(gap, car))
    drawing.rectangle(Pen.OUTLINE, (left, top), right - left, ground - top + 22)
    middle = left + (right - left) * 0.62
    drawing.rectangle(Pen.TINT, (middle, top), right - middle, part - top)
    high, low = sorted((part, limit))
    _hatch(drawing, (middle, right), (high, low))
    drawing.line(Pen.GROUND, (left, ground), (right, ground))
    drawing.line(Pen.FLAG, (left + 3, limit), (right, limit))
    across = middle + (right - middle) / 2
    drawing.line(Pen.HEAVY, (across, part), (across, ground))
    if ground - part > 9:
        arrow_head(drawing, (across, part), (0, -1), ink=Pen.ACCENT)
        arrow_head(drawing, (across, ground), (0, 1), ink=Pen.ACCENT)
    asked = _("least") if gap.is_least else _("most")
    above = limit - 16 if limit - 16 > top + 11 else limit + 13
    drawing.text(Pen.ACCENT_SMALL, (left + 3, above), asked)
    drawing.text(Pen.ACCENT_TEXT, (left + 3, above + 13), shown_number(gap.limit))
    is_words = _("is %(value)s") % {"value": shown_number(gap.value)}
    drawing.text(Pen.ACCENT_TEXT, (right - 4, ground + 16), is_words, anchor="end")


def _times(gap: Gap, scale: float) -> int:
    largest = max(gap.value, gap.limit, 0.01)
    fitting = (n for n in _MAGNIFIED if n * scale * largest <= _TALLEST)
    return next(fitting, 1)


def _part_words(gap: Gap, car: CarFigures) -> str:
    if gap.column == "twist":
        return car.lifted_wheel() or _("wheel")
    words = {
        "clearance_gear": _("gear"),
        "clearance_motor": _("motor"),
        "clearance_magnet": _("magnet"),
        "clearance_body": _("body"),
    }
    end = _("front") if gap.column.endswith("_front") else _("rear")
    chassis = _("chassis") if gap.column == "clearance_least" else end
    return words.get(gap.column) or chassis or column_name(gap.column)


def _hatch(
    drawing: Drawing, across: tuple[float, float], down: tuple[float, float]
) -> None:
    """Hatch what is missing, or too much, at 45°."""
    (left, right), (top, bottom) = across, down
    height = bottom - top
    if height < 1:
        return
    strokes = []
    at = left - height
    while at < right:
        start, end = max(0.0, left - at), min(height, right - at)
        if end > start:
            strokes.append(
                f"M{at + start:.1f} {bottom - start:.1f}"
                f"L{at + end:.1f} {bottom - end:.1f}"
            )
        at += 5
    drawing.path(Pen.ACCENT_THIN, "".join(strokes))
