"""The car from behind, to scale: tyres, axle, gear, motor, chassis over the block."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.drawing.callouts import Callout, call_out, height_of
from inspection.drawing.car import (
    LIKELY_TRACK,
    CarFigures,
    Frame,
    missing_words,
    not_known,
    note_height,
    note_missing,
    rear_ground,
)
from inspection.drawing.dimensions import (
    dimension_across,
    dimension_down,
    ground_line,
    with_mark,
)
from inspection.drawing.insets import WIDTH as INSET_WIDTH
from inspection.drawing.insets import draw_inset, gap_to_magnify, ring_gaps
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, Point, text_width

WIDTH = 400.0
#: So narrow that its least letters are 12 pixels high across a phone.
NARROW = 298.0
SIDE, NARROW_SIDE = 44.0, 10.0
ABOVE = 62.0
#: Places for what is not known: drawn dashed, never dimensioned.
TYRE_WIDTH, AXLE_DIAMETER, PLATE, GEAR_WIDTH, CAN = 10.0, 2.4, 1.2, 2.6, 15.0


@dataclass(frozen=True, kw_only=True)
class _Tyre:
    side: str
    corners: list[Point]
    diameter: float
    known: bool


def draw_rear_view(car: CarFigures, *, is_narrow: bool = False) -> str:
    """
    Draw the rear view with each clearance, the tyres, the track and the width.

    A narrow one is for a phone: fewer dimensions, larger letters, and what fails
    magnified beside it.
    """
    width = NARROW if is_narrow else WIDTH
    gap = gap_to_magnify(car) if is_narrow else None
    room = width - (0.0 if gap is None else INSET_WIDTH)
    frame = _frame(car, room, NARROW_SIDE if is_narrow else SIDE)
    callouts = _callouts(car, frame)
    missing = missing_words(car, _needed())
    below = height_of(callouts, room)
    foot = frame.ground + 14 + max(below, 0.0 if gap is None else 12.0)
    note = note_height(missing, width)
    sentences = describe_rear_view(car)
    drawing = Drawing(
        width,
        foot + note,
        title=_("Rear view to scale"),
        has_failing=bool(car.failing),
        description=" ".join(sentences),
    )
    drawing.text(Pen.SMALL, (6, 13), _("Rear view, mm"))
    if not is_narrow or car.failing & {"axle_level", "tilt"}:
        _attitude(drawing, car)
    ground_line(drawing, frame.ground, start=0, end=room)
    paint_rear(drawing, car, frame)
    if is_narrow:
        _tyre_labels(drawing, car, frame)
    else:
        _tyre_dimensions(drawing, car, frame)
    _across(drawing, car, frame)
    call_out(drawing, callouts, ground=frame.ground, width=room)
    if gap is not None:
        ring_gaps(drawing, callouts, ground=frame.ground)
        draw_inset(drawing, gap, car=car, scale=frame.scale, ground=frame.ground)
    note_missing(drawing, missing, foot)
    return drawing.svg()


def describe_rear_view(car: CarFigures) -> list[str]:
    """Say in sentences what the rear view shows, for those who do not see it."""
    rows = [
        (_("Left rear tyre %(value)s mm."), "tyre_diameter_rear_left"),
        (_("Right rear tyre %(value)s mm."), "tyre_diameter_rear_right"),
        (_("Track %(value)s mm."), "track_rear"),
        (_("Width over the tyres %(value)s mm."), "width_rear"),
        (_("Ride height at the rear %(value)s mm."), "ride_height_rear"),
        (_("Gear to track %(value)s mm."), "clearance_gear"),
        (_("Motor to track %(value)s mm."), "clearance_motor"),
        (_("Axle out of level by %(value)s mm, left high positive."), "axle_level"),
        (_("Tilt %(value)s degrees, left side high positive."), "tilt"),
    ]
    sentences = [
        words % {"value": shown_number(value)}
        for words, column in rows
        if (value := car.of(column)) is not None
    ]
    missing = missing_words(car, _needed())
    return [*sentences, not_known(missing)] if missing else sentences


def _needed() -> dict[str, tuple[str, ...]]:
    return {
        _("rear tyre diameter"): (
            "tyre_diameter_rear_left",
            "tyre_diameter_rear_right",
        ),
        _("rear axle height"): ("axle_height_rear_left", "axle_height_rear_right"),
        _("track"): ("track_rear", "width_rear"),
        _("gear diameter"): ("gear_diameter",),
        _("motor height"): ("can_height",),
        _("chassis width"): ("datum_half_width_rear", "chassis_width"),
    }


def _half_width(car: CarFigures) -> float | None:
    half = car.of("datum_half_width_rear")
    whole = car.of("chassis_width")
    return whole / 2 if half is None and whole is not None else half


def _frame(car: CarFigures, room: float, side: float) -> Frame:
    track = car.track("rear") or LIKELY_TRACK
    over = max(
        track + (car.of("tyre_width_rear") or TYRE_WIDTH),
        car.of("width_rear") or 0,
        2 * (_half_width(car) or 0),
    )
    scale = (room - 2 * side) / over
    slope, level = rear_ground(car) or (0.0, 0.0)
    tyre = car.mean_of("tyre_diameter_rear_left", "tyre_diameter_rear_right") or 20.0
    top = (car.of("motor_lift_rear") or 0) + (car.of("can_height") or 0) - level
    return Frame(
        scale=scale,
        origin=room / 2,
        ground=ABOVE + max(tyre, top) * scale,
        slope=slope,
        level=level,
    )


def paint_rear(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    """Draw the parts, the farthest first, without any dimension."""
    _paint_motor(drawing, car, frame)
    _paint_chassis(drawing, car, frame)
    _paint_axle(drawing, car, frame)
    _paint_gear(drawing, car, frame)
    for tyre in _tyres(car, frame):
        drawing.shape(Pen.RUBBER if tyre.known else Pen.HIDDEN, tyre.corners)
    _axle_centre_line(drawing, car, frame)


def _paint_motor(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    half, height = car.of("can_half_width"), car.of("can_height")
    lift = car.first_of("motor_lift_rear", "motor_lift_front")
    if half is None and height is None:
        return
    known = half is not None and height is not None
    across = (-(half or CAN / 2), half or CAN / 2)
    up = (lift or 0.0, (lift or 0.0) + (height or CAN))
    drawing.shape(Pen.OUTLINE if known else Pen.HIDDEN, frame.box(across, up))
    middle = sum(up) / 2
    shaft = frame.at(0, middle)
    drawing.circle(Pen.THIN, shaft, 3.4 * frame.scale)
    drawing.circle(Pen.LINE, shaft, 1.0 * frame.scale)
    drawing.line(Pen.CENTRE, frame.at(0, up[0] - 1), frame.at(0, up[1] + 1.5))


def _paint_chassis(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    half = _half_width(car)
    if half is None:
        return
    thick = car.of("chassis_thickness") or PLATE
    drawing.shape(Pen.TINT, frame.box((-half, half), (0, thick)))
    span = car.of("axle_station_span_rear")
    if span is None:
        return
    for y in (-span / 2, span / 2):
        axle = car.axle_height("rear", y)
        if axle is not None:
            top = axle + (car.of("axle_diameter") or AXLE_DIAMETER) / 2 + 1.0
            drawing.shape(Pen.TINT, frame.box((y - 0.8, y + 0.8), (thick, top)))


def _axle_ends(car: CarFigures) -> float:
    track = car.track("rear") or LIKELY_TRACK
    return (track + (car.of("tyre_width_rear") or TYRE_WIDTH)) / 2


def _along_axle(
    car: CarFigures, frame: Frame, across: tuple[float, float], radius: float
) -> list[Point]:
    """Give the corners of something round about the axle, seen from behind."""
    heights = [car.axle_height("rear", y) or 0.0 for y in across]
    (left_y, right_y), (left, right) = across, heights
    # The sides of a wheel stand square to the axle, not to the chassis.
    lean = (left - right) / (left_y - right_y) * radius if left_y != right_y else 0.0
    return [
        frame.at(left_y + lean, left - radius),
        frame.at(right_y + lean, right - radius),
        frame.at(right_y - lean, right + radius),
        frame.at(left_y - lean, left + radius),
    ]


def _paint_axle(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    if car.axle_height("rear", 0) is None:
        return
    end = _axle_ends(car)
    radius = (car.of("axle_diameter") or AXLE_DIAMETER) / 2
    drawing.shape(Pen.OUTLINE, _along_axle(car, frame, (end, -end), radius))


def _axle_centre_line(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    end = _axle_ends(car) + 1.0
    heights = (car.axle_height("rear", end), car.axle_height("rear", -end))
    if heights[0] is not None and heights[1] is not None:
        ends = (frame.at(end, heights[0]), frame.at(-end, heights[1]))
        drawing.line(Pen.CENTRE, *ends)


def _gear_y(car: CarFigures) -> float:
    return car.of("gear_position_y") or 0.0


def _paint_gear(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    diameter, y = car.of("gear_diameter"), _gear_y(car)
    if diameter is None or car.axle_height("rear", y) is None:
        return
    across = (y + GEAR_WIDTH / 2, y - GEAR_WIDTH / 2)
    corners = _along_axle(car, frame, across, diameter / 2)
    drawing.shape(Pen.TINT, corners)
    teeth = [_along_axle(car, frame, across, diameter / 2 * k) for k in (0.9, 0.7, 0.4)]
    for ring in teeth:
        drawing.line(Pen.THIN, ring[0], ring[1])
        drawing.line(Pen.THIN, ring[2], ring[3])


def _tyres(car: CarFigures, frame: Frame) -> list[_Tyre]:
    tyres = []
    half = (car.track("rear") or LIKELY_TRACK) / 2
    width = car.of("tyre_width_rear") or TYRE_WIDTH
    placed = car.track("rear") is not None and car.of("tyre_width_rear") is not None
    for side, y in (("left", half), ("right", -half)):
        diameter = car.of(f"tyre_diameter_rear_{side}")
        if diameter is None:
            continue
        across = (y + width / 2, y - width / 2)
        if car.axle_height("rear", 0) is None:
            base = frame.level
            corners = frame.box(across, (base, base + diameter))
        else:
            corners = _along_axle(car, frame, across, diameter / 2)
        tyres.append(_Tyre(side=side, corners=corners, diameter=diameter, known=placed))
    return tyres


def _tyre_labels(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    """Write each tyre's diameter on it: what fails with its limit below."""
    for tyre in _tyres(car, frame):
        column = f"tyre_diameter_rear_{tyre.side}"
        across = [x for x, _y in tyre.corners]
        middle = sum(across) / len(across)
        top = min(y for _x, y in tyre.corners)
        words = f"⌀{shown_number(tyre.diameter)}"
        half = text_width(words, Pen.VALUE) / 2
        x = min(max(middle, half + 1), 2 * frame.origin - half - 1)
        marked = column in car.failing
        pen = Pen.ACCENT_TEXT if marked else Pen.VALUE
        shown = with_mark(words, marked=marked)
        is_wider = 2 * half > max(across) - min(across)
        drawing.text(pen, (x, top + 18), shown, anchor="middle", has_halo=is_wider)
        if marked:
            limit = car.limit_words(column)
            drawing.text(Pen.ACCENT_SMALL, (x, top + 31), limit, anchor="middle")


def _tyre_dimensions(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    for tyre in _tyres(car, frame):
        left = tyre.side == "left"
        bottom, top = (tyre.corners[0], tyre.corners[3])[:2]
        if not left:
            bottom, top = tyre.corners[1], tyre.corners[2]
        edge = min(bottom[0], top[0]) if left else max(bottom[0], top[0])
        dimension_down(
            drawing,
            (top, bottom),
            edge - 14 if left else edge + 25,
            f"⌀{shown_number(tyre.diameter)}",
            marked=f"tyre_diameter_rear_{tyre.side}" in car.failing,
        )


def _across(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    tyres = {tyre.side: tyre.corners for tyre in _tyres(car, frame)}
    if len(tyres) < 2:
        return
    left, right = tyres["left"], tyres["right"]
    top = min(point[1] for point in (*left, *right))
    track, over = car.track("rear"), car.of("width_rear")
    if track is not None:
        middles = (_middle(left[2], left[3]), _middle(right[2], right[3]))
        words = _("track %(value)s") % {"value": shown_number(track)}
        marked = "track_rear" in car.failing
        words = _with_limit(car, words, "track_rear")
        dimension_across(drawing, middles, top - 10, words, marked=marked)
    if over is not None:
        words = _("over tyres %(value)s") % {"value": shown_number(over)}
        marked = "width_rear" in car.failing
        words = _with_limit(car, words, "width_rear")
        dimension_across(drawing, (left[3], right[2]), top - 29, words, marked=marked)


def _with_limit(car: CarFigures, words: str, column: str) -> str:
    limit = car.limit_words(column)
    return f"{words}, {limit}" if limit else words


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _attitude(drawing: Drawing, car: CarFigures) -> None:
    """Write level and tilt, which true to scale are too small to see."""
    parts = []
    if (level := car.of("axle_level")) is not None:
        value = shown_number(level, signed=True)
        parts.append(_("axle level %(value)s") % {"value": value})
    if (tilt := car.of("tilt")) is not None:
        value = shown_number(tilt, signed=True)
        parts.append(_("tilt %(value)s°") % {"value": value})
    marked = car.failing & {"axle_level", "tilt"}
    pen = Pen.ACCENT_TEXT if marked else Pen.TEXT
    drawing.text(pen, (drawing.width - 6, 13), " · ".join(parts), anchor="end")


def _callouts(car: CarFigures, frame: Frame) -> list[Callout]:
    if rear_ground(car) is None:
        return []
    half = _half_width(car)
    callouts = []
    if half is not None:
        low = min((half, -half), key=lambda y: frame.gap(y, 0))
        columns = ("ride_height_rear", "clearance_rear")
        callouts.append(_callout(car, frame, _("chassis"), columns, (low, 0.0)))
    axle, gear = car.axle_height("rear", _gear_y(car)), car.of("gear_diameter")
    if axle is not None and gear is not None:
        place = (_gear_y(car), axle - gear / 2)
        callouts.append(_callout(car, frame, _("gear"), ("clearance_gear",), place))
    can, lift = car.of("can_half_width"), car.of("motor_lift_rear")
    if can is not None and car.of("can_height") is not None:
        low = min((can, -can), key=lambda y: frame.gap(y, lift or 0.0))
        place = (low, lift or 0.0)
        callouts.append(_callout(car, frame, _("motor"), ("clearance_motor",), place))
    return callouts


def _callout(
    car: CarFigures,
    frame: Frame,
    words: str,
    columns: tuple[str, ...],
    place: tuple[float, float],
) -> Callout:
    failing = [column for column in columns if column in car.failing]
    value = car.first_of(*failing, *columns)
    x, top = frame.at(*place)
    # ISO 129: a figure that only follows from others stands in brackets.
    shown = shown_number(value)
    if value is None:
        shown = f"({shown_number(frame.gap(*place))})"
    return Callout(
        x=x,
        top=top,
        words=words,
        value=shown,
        marked=bool(car.failing.intersection(columns)),
    )
