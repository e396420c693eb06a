"""A gear on its axle, to scale: over the ground, and against the chassis bar."""

import math
from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.drawing.callouts import Callout, call_out, height_of
from inspection.drawing.dimensions import dimension_across, ground_line
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, Point

WIDTH = 360.0
ABOVE = 62.0
SIDE = 30.0
BAR, BAR_HIGH, AXLE = 2.4, 5.0, 2.4
PICTURE = 168.0


@dataclass(frozen=True, kw_only=True)
class GearInPlace:
    """
    A gear and what it must clear, in millimetres.

    ``axle_over_ground_mm`` is the true height of the axle's centre at the gear,
    from the way the car stands; ``axle_to_bar_mm`` from that centre to the bar's
    face.  Limits are the least gaps.
    """

    outside_diameter_mm: float
    axle_over_ground_mm: float
    ground_limit_mm: float | None = None
    tyre_diameter_mm: float | None = None
    axle_to_bar_mm: float | None = None
    bar_limit_mm: float | None = None
    pinion_diameter_mm: float | None = None
    centre_distance_mm: float | None = None
    teeth: int | None = None

    @property
    def ground_gap_mm(self) -> float:
        return self.axle_over_ground_mm - self.outside_diameter_mm / 2

    @property
    def bar_gap_mm(self) -> float | None:
        if self.axle_to_bar_mm is None:
            return None
        return self.axle_to_bar_mm - self.outside_diameter_mm / 2


@dataclass(frozen=True, kw_only=True)
class _Place:
    """Where the axle's centre is on the drawing, and pixels a millimetre."""

    x: float
    y: float
    scale: float
    ground: float


def draw_gear(gear: GearInPlace) -> str:
    """Draw the gear from the left side, nose to the left."""
    place = _place(gear)
    callouts = [_ground_callout(gear, place)]
    drawing = Drawing(
        WIDTH,
        place.ground + 14 + height_of(callouts, WIDTH),
        title=_("Gear in its place, to scale"),
        description=" ".join(describe_gear(gear)),
    )
    drawing.text(Pen.SMALL, (6, 13), _("Gear from the left, mm"))
    ground_line(drawing, place.ground, start=0, end=WIDTH)
    if gear.tyre_diameter_mm is not None:
        radius = gear.tyre_diameter_mm / 2 * place.scale
        drawing.circle(Pen.HIDDEN, (place.x, place.y), radius)
    _paint_bar(drawing, gear, place)
    _paint_pinion(drawing, gear, place)
    _paint_gear(drawing, gear, place)
    _ground_limit(drawing, gear, place)
    _bar_dimension(drawing, gear, place)
    call_out(drawing, callouts, ground=place.ground)
    return drawing.svg()


def describe_gear(gear: GearInPlace) -> list[str]:
    """Say what the picture shows."""
    rows = [
        (_("Gear %(value)s mm over the teeth."), gear.outside_diameter_mm),
        (_("It clears the track by %(value)s mm."), gear.ground_gap_mm),
        (_("At least %(value)s mm is wanted there."), gear.ground_limit_mm),
        (_("It clears the chassis bar by %(value)s mm."), gear.bar_gap_mm),
        (_("At least %(value)s mm is wanted there too."), gear.bar_limit_mm),
    ]
    return [
        words % {"value": shown_number(value)}
        for words, value in rows
        if value is not None
    ]


def _place(gear: GearInPlace) -> _Place:
    tallest = max(
        gear.axle_over_ground_mm + gear.outside_diameter_mm / 2,
        gear.tyre_diameter_mm or 0,
    )
    reach = max(gear.outside_diameter_mm, gear.tyre_diameter_mm or 0) / 2
    ahead = max(reach, (gear.axle_to_bar_mm or 0) + BAR, _pinion_reach(gear))
    scale = min(PICTURE / tallest, (WIDTH - 2 * SIDE) / (ahead + reach))
    ground = ABOVE + tallest * scale
    return _Place(
        x=(WIDTH + (ahead - reach) * scale) / 2,
        y=ground - gear.axle_over_ground_mm * scale,
        scale=scale,
        ground=ground,
    )


def _pinion_reach(gear: GearInPlace) -> float:
    if gear.pinion_diameter_mm is None or gear.centre_distance_mm is None:
        return 0.0
    return gear.centre_distance_mm + gear.pinion_diameter_mm / 2


def _paint_gear(drawing: Drawing, gear: GearInPlace, place: _Place) -> None:
    centre, radius = (place.x, place.y), gear.outside_diameter_mm / 2 * place.scale
    if gear.teeth is None:
        drawing.circle(Pen.TINT, centre, radius)
    else:
        depth = 2.25 * gear.outside_diameter_mm / (gear.teeth + 2) * place.scale
        drawing.shape(Pen.TINT, toothed(centre, radius, depth, gear.teeth))
    drawing.circle(Pen.OUTLINE, centre, AXLE / 2 * place.scale)
    arm = radius + 5
    drawing.line(Pen.CENTRE, (place.x - arm, place.y), (place.x + arm, place.y))
    drawing.line(Pen.CENTRE, (place.x, place.y - arm), (place.x, place.ground))


def toothed(centre: Point, radius: float, depth: float, teeth: int) -> list[Point]:
    """Give a gear's outline with plain teeth, one pointing straight down."""
    (x, y), root = centre, radius - depth
    shape = []
    for tooth in range(teeth):
        middle = math.pi / 2 + 2 * math.pi * tooth / teeth
        pitch = 2 * math.pi / teeth
        for share, size in ((-0.3, root), (-0.13, radius), (0.13, radius), (0.3, root)):
            angle = middle + share * pitch
            shape.append((x + size * math.cos(angle), y + size * math.sin(angle)))
    return shape


def _paint_pinion(drawing: Drawing, gear: GearInPlace, place: _Place) -> None:
    if gear.pinion_diameter_mm is None or gear.centre_distance_mm is None:
        return
    centre = (place.x - gear.centre_distance_mm * place.scale, place.y)
    drawing.circle(Pen.OUTLINE, centre, gear.pinion_diameter_mm / 2 * place.scale)
    drawing.circle(Pen.OUTLINE, centre, place.scale)


def _paint_bar(drawing: Drawing, gear: GearInPlace, place: _Place) -> None:
    if gear.axle_to_bar_mm is None:
        return
    face = place.x - gear.axle_to_bar_mm * place.scale
    width, high = BAR * place.scale, BAR_HIGH * place.scale
    top = place.y - high / 2
    drawing.rectangle(Pen.OUTLINE, (face - width, top), width, high)
    # Cut through: hatched at 45 degrees.
    strokes = "".join(
        f"M{face - width:.1f} {top + rise:.1f}l{width:.1f} {-min(width, rise):.1f}"
        for rise in range(int(width), int(high), 5)
    )
    drawing.path(Pen.HATCH, strokes)


def _ground_callout(gear: GearInPlace, place: _Place) -> Callout:
    gap, limit = gear.ground_gap_mm, gear.ground_limit_mm
    return Callout(
        x=place.x,
        top=place.ground - gap * place.scale,
        words=_("gear to track"),
        value=shown_number(gap),
        marked=limit is not None and gap < limit,
    )


def _ground_limit(drawing: Drawing, gear: GearInPlace, place: _Place) -> None:
    if gear.ground_limit_mm is None:
        return
    y = place.ground - gear.ground_limit_mm * place.scale
    start = place.x + gear.outside_diameter_mm / 2 * place.scale * 0.55
    fails = gear.ground_gap_mm < gear.ground_limit_mm
    line, text = (Pen.FLAG, Pen.ACCENT_TEXT) if fails else (Pen.LIMIT, Pen.VALUE)
    drawing.line(line, (place.x - 24, y), (WIDTH - 8, y))
    words = _("limit %(value)s") % {"value": shown_number(gear.ground_limit_mm)}
    place_of_words = (max(start, WIDTH - 8), y - 4)
    drawing.text(text, place_of_words, words, anchor="end")


def _bar_dimension(drawing: Drawing, gear: GearInPlace, place: _Place) -> None:
    gap = gear.bar_gap_mm
    if gap is None or gear.axle_to_bar_mm is None:
        return
    top = place.y - BAR_HIGH / 2 * place.scale
    edge = (place.x - gear.outside_diameter_mm / 2 * place.scale, place.y)
    face = (place.x - gear.axle_to_bar_mm * place.scale, top)
    short = gear.bar_limit_mm is not None and gap < gear.bar_limit_mm
    words = _("to bar %(value)s") % {"value": shown_number(gap)}
    dimension_across(drawing, (face, edge), ABOVE - 20, words, marked=short)
