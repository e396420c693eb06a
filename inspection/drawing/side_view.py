"""The car from its left side, to scale: rake, wheelbase, ride heights and guide."""

from django.utils.translation import gettext as _

from inspection.drawing.callouts import Callout, call_out, height_of
from inspection.drawing.car import (
    CarFigures,
    Frame,
    missing_words,
    not_known,
    note_height,
    note_missing,
    side_ground,
)
from inspection.drawing.dimensions import (
    arrow_head,
    dimension_across,
    ground_line,
    pens,
    with_mark,
)
from inspection.drawing.insets import SIDE_GAPS, draw_inset, gap_to_magnify, ring_gaps
from inspection.drawing.insets import WIDTH as INSET_WIDTH
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, Point

WIDTH = 400.0
#: So narrow that its least letters are 12 pixels high across a phone.
NARROW = 298.0
SIDE = 22.0
ABOVE = 76.0
PLATE, BLADE, FLANGE, WHEEL = 1.2, 11.0, 13.0, 0.62
LIKELY_WHEELBASE = 95.0
LENGTHS = frozenset({"wheelbase", "wheelbase_left", "wheelbase_right", "guide_lead"})
LIKELY_TYRE = 20.0


def draw_side_view(car: CarFigures, *, is_narrow: bool = False) -> str:
    """
    Draw the side view with wheelbase, guide, tyres, ride heights and rake.

    A narrow one is for a phone: its letters are larger, and what fails is magnified
    beside it.
    """
    width = NARROW if is_narrow else WIDTH
    # A length that fails needs the whole width for its figure.
    is_short = is_narrow and not car.failing & LENGTHS
    gap = gap_to_magnify(car, SIDE_GAPS) if is_short else None
    room = width - (0.0 if gap is None else INSET_WIDTH)
    frame = _frame(car, room)
    callouts = _callouts(car, frame)
    missing = missing_words(car, _needed(car))
    below = height_of(callouts, room)
    foot = frame.ground + 14 + max(below, 0.0 if gap is None else 12.0)
    drawing = Drawing(
        width,
        foot + note_height(missing, width),
        title=_("Side view to scale"),
        has_failing=bool(car.failing),
        description=" ".join(describe_side_view(car)),
    )
    name = _("Side view, mm") if gap else _("Side view, nose to the left, mm")
    drawing.text(Pen.SMALL, (6, 13), name)
    if gap is None or "rake" in car.failing:
        _attitude(drawing, car, end=room)
    draw_block(drawing, car, frame, end=room)
    paint_side(drawing, car, frame)
    if gap is None:
        _lengths(drawing, car, frame)
    # Beside an inset there is room for what fails alone.
    _diameters(drawing, car, frame, only_failing=gap is not None)
    call_out(drawing, callouts, ground=frame.ground, width=room)
    if gap is not None:
        ring_gaps(drawing, callouts, ground=frame.ground)
        draw_inset(drawing, gap, car=car, scale=frame.scale, ground=frame.ground)
    note_missing(drawing, missing, foot)
    return drawing.svg()


def describe_side_view(car: CarFigures) -> list[str]:
    """Say in sentences what the side view shows, for those who do not see it."""
    rows = [
        (_("Wheelbase, left, %(value)s mm."), "wheelbase_left"),
        (_("Wheelbase, right, %(value)s mm."), "wheelbase_right"),
        (_("Guide %(value)s mm ahead of the rear axle."), "guide_lead"),
        (_("Guide blade %(value)s mm deep."), "guide_depth"),
        (_("Ride height at the rear %(value)s mm."), "ride_height_rear"),
        (_("Ride height at the front %(value)s mm."), "ride_height_front"),
        (_("Magnet to track %(value)s mm."), "clearance_magnet"),
        (_("Rake %(value)s degrees, nose down positive."), "rake"),
    ]
    sentences = [
        words % {"value": shown_number(value)}
        for words, column in rows
        if (value := car.of(column)) is not None
    ]
    missing = missing_words(car, _needed(car))
    return [*sentences, not_known(missing)] if missing else sentences


def _needed(car: CarFigures) -> dict[str, tuple[str, ...]]:
    rows: dict[str, tuple[str, ...]] = {
        _("rear tyre diameter"): (
            "tyre_diameter_rear_left",
            "tyre_diameter_rear_right",
        ),
        _("rear axle height"): ("axle_height_rear_left", "axle_height_rear_right"),
        _("guide lead"): ("guide_lead",),
    }
    if car.front_on_guide:
        return rows
    return rows | {
        _("wheelbase"): ("wheelbase_left", "wheelbase_right"),
        _("front tyre diameter"): (
            "tyre_diameter_front_left",
            "tyre_diameter_front_right",
        ),
        _("front axle height"): ("axle_height_front_left", "axle_height_front_right"),
    }


def _diameter(car: CarFigures, end: str) -> float | None:
    return car.mean_of(f"tyre_diameter_{end}_left", f"tyre_diameter_{end}_right")


def _frame(car: CarFigures, room: float) -> Frame:
    rear = (_diameter(car, "rear") or LIKELY_TYRE) / 2
    front = (_diameter(car, "front") or LIKELY_TYRE) / 2
    back = max(rear, car.of("chassis_tail") or 0)
    wheelbase = car.wheelbase() or LIKELY_WHEELBASE
    ahead = max(wheelbase + front, (car.of("guide_lead") or 0) + FLANGE / 2 + 2)
    scale = (room - 2 * SIDE) / (back + ahead)
    slope, level = side_ground(car) or (0.0, 0.0)
    top = max(2 * rear, 2 * front, (car.of("can_height") or 0) - level + 1)
    return Frame(
        scale=scale,
        origin=SIDE + ahead * scale,
        ground=ABOVE + top * scale,
        slope=slope,
        level=level,
    )


def draw_block(
    drawing: Drawing, car: CarFigures, frame: Frame, *, end: float | None = None
) -> None:
    """Draw the block's face, with the slot that the guide's blade goes into."""
    end = drawing.width if end is None else end
    lead, depth = car.of("guide_lead"), car.of("guide_depth")
    if lead is None or depth is None:
        ground_line(drawing, frame.ground, start=0, end=end)
        return
    x = frame.at(lead, 0)[0]
    half = BLADE / 2 * frame.scale + 5
    ground_line(drawing, frame.ground, start=0, end=x - half)
    ground_line(drawing, frame.ground, start=x + half, end=end)
    floor = frame.ground + (depth + 1.5) * frame.scale
    edges = [
        (x - half, frame.ground),
        (x - half, floor),
        (x + half, floor),
        (x + half, frame.ground),
    ]
    drawing.line(Pen.HIDDEN, *edges)


def paint_side(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    """Draw the parts, the farthest first, without any dimension."""
    _paint_motor(drawing, car, frame)
    _paint_chassis(drawing, car, frame)
    _paint_guide(drawing, car, frame)
    _paint_gear(drawing, car, frame)
    for end in ("rear", "front"):
        _paint_wheel(drawing, car, frame, end)


def _paint_motor(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    rear, front, height = (
        car.of(name) for name in ("can_rear_x", "can_front_x", "can_height")
    )
    if rear is None or front is None or height is None:
        return
    low = car.of("motor_lift_rear") or 0.0
    high = car.of("motor_lift_front")
    lifts = (low, low if high is None else high)
    corners = [
        frame.at(rear, lifts[0]),
        frame.at(front, lifts[1]),
        frame.at(front, lifts[1] + height),
        frame.at(rear, lifts[0] + height),
    ]
    drawing.shape(Pen.OUTLINE, corners)
    axis = (
        frame.at(rear - 5, lifts[0] + height / 2),
        frame.at(front + 3, lifts[1] + height / 2),
    )
    drawing.line(Pen.CENTRE, *axis)


def _paint_chassis(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    tail = car.of("chassis_tail")
    nose = car.first_of("guide_lead", "wheelbase_left", "wheelbase_right")
    if nose is None or side_ground(car) is None:
        return
    thick = car.of("chassis_thickness") or PLATE
    back = 6.0 if tail is None else tail
    drawing.shape(Pen.TINT, frame.box((-back, nose + 3), (0, thick)))


def _paint_guide(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    lead = car.of("guide_lead")
    if lead is None:
        return
    flange = car.of("guide_flange_height") or 0.0
    across = (lead - FLANGE / 2, lead + FLANGE / 2)
    drawing.shape(Pen.OUTLINE, frame.box(across, (flange, flange + 1.2)))
    depth = car.of("guide_depth")
    if depth is not None:
        blade = (lead - BLADE / 2, lead + BLADE / 2)
        drawing.shape(Pen.OUTLINE, frame.box(blade, (flange - depth, flange)))
    post = frame.box((lead - 1.2, lead + 1.2), (flange + 1.2, flange + 5))
    drawing.shape(Pen.OUTLINE, post)


def _paint_gear(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    diameter, axle = car.of("gear_diameter"), car.axle_height("rear", 0)
    if diameter is not None and axle is not None:
        drawing.circle(Pen.HIDDEN, frame.at(0, axle), diameter / 2 * frame.scale)


def _hub(car: CarFigures, frame: Frame, end: str) -> tuple[Point, float, bool] | None:
    """Give a wheel's centre and radius, and whether its axle's place is known."""
    diameter = _diameter(car, end)
    if diameter is None:
        return None
    x = 0.0 if end == "rear" else (car.wheelbase() or LIKELY_WHEELBASE)
    height = car.axle_height(end, 0)
    known = height is not None and (end == "rear" or car.wheelbase() is not None)
    if height is None:
        height = frame.slope * x + frame.level + diameter / 2
    return frame.at(x, height), diameter / 2 * frame.scale, known


def _paint_wheel(drawing: Drawing, car: CarFigures, frame: Frame, end: str) -> None:
    hub = _hub(car, frame, end)
    if hub is None:
        return
    centre, radius, known = hub
    if not known:
        drawing.circle(Pen.HIDDEN, centre, radius)
        return
    drawing.circle(Pen.RUBBER, centre, radius)
    drawing.circle(Pen.OUTLINE, centre, radius * WHEEL)
    drawing.circle(Pen.OUTLINE, centre, 1.2 * frame.scale)
    (x, y), arm = centre, radius + 5
    drawing.line(Pen.CENTRE, (x - arm, y), (x + arm, y))
    drawing.line(Pen.CENTRE, (x, y - arm), (x, y + radius))


def _lengths(drawing: Drawing, car: CarFigures, frame: Frame) -> None:
    rear, front = _hub(car, frame, "rear"), _hub(car, frame, "front")
    top = ABOVE - 22
    if rear is not None and front is not None and car.wheelbase() is not None:
        ends = tuple((hub[0][0], hub[0][1] - hub[1] - 4) for hub in (rear, front))
        words = _("wheelbase %(value)s") % {"value": _wheelbase_words(car)}
        marked = bool(car.failing & {"wheelbase_left", "wheelbase_right", "wheelbase"})
        dimension_across(drawing, (ends[0], ends[1]), top, words, marked=marked)
    lead = car.of("guide_lead")
    if rear is not None and lead is not None:
        post = frame.at(lead, (car.of("guide_flange_height") or 0.0) + 5)
        axle = (rear[0][0], rear[0][1] - rear[1] - 4)
        words = _("guide %(value)s") % {"value": shown_number(lead)}
        marked = "guide_lead" in car.failing
        dimension_across(drawing, (post, axle), top - 19, words, marked=marked)


def _diameters(
    drawing: Drawing, car: CarFigures, frame: Frame, *, only_failing: bool
) -> None:
    for end in ("rear", "front"):
        hub = _hub(car, frame, end)
        names = {f"tyre_diameter_{end}_left", f"tyre_diameter_{end}_right"}
        marked = bool(car.failing & names)
        if hub is not None and (marked or not only_failing):
            _diameter_leader(drawing, car, (hub[0], hub[1]), end, marked=marked)


def _wheelbase_words(car: CarFigures) -> str:
    left, right = car.of("wheelbase_left"), car.of("wheelbase_right")
    if left is None or right is None or round(left - right, 2) == 0:
        return shown_number(car.wheelbase())
    return f"{shown_number(left)} / {shown_number(right)}"


def _diameter_leader(
    drawing: Drawing,
    car: CarFigures,
    wheel: tuple[Point, float],
    end: str,
    *,
    marked: bool,
) -> None:
    """Call a tyre's diameter out, from its edge towards the car's middle."""
    (x, y), radius = wheel
    way = -1 if end == "rear" else 1
    line, ink, pen = pens(marked=marked)
    edge = (x + way * radius * 0.5, y - radius * 0.866)
    shelf = (edge[0] + way * 9, edge[1] - 9)
    drawing.line(line, edge, shelf, (shelf[0] + way * 5, shelf[1]))
    arrow_head(drawing, edge, (-way * 0.707, 0.707), ink=ink)
    words = with_mark(f"⌀{shown_number(_diameter(car, end))}", marked=marked)
    place = (shelf[0] + way * 7, shelf[1] + 4)
    drawing.text(pen, place, words, anchor="end" if way < 0 else "start")


def _attitude(drawing: Drawing, car: CarFigures, *, end: float) -> None:
    rake = car.of("rake")
    if rake is None:
        return
    marked = "rake" in car.failing
    value = shown_number(rake, signed=True)
    words = with_mark(_("rake %(value)s°") % {"value": value}, marked=marked)
    pen = Pen.ACCENT_TEXT if marked else Pen.TEXT
    drawing.text(pen, (end - 6, 13), words, anchor="end")


def _callouts(car: CarFigures, frame: Frame) -> list[Callout]:
    if side_ground(car) is None:
        return []
    rows = [(_("rear"), ("ride_height_rear", "clearance_rear"), 0.0)]
    wheelbase = car.wheelbase()
    if wheelbase is not None:
        columns = ("ride_height_front", "clearance_front")
        rows.append((_("front"), columns, wheelbase))
    return [_callout(car, frame, words, columns, x) for words, columns, x in rows]


def _callout(
    car: CarFigures, frame: Frame, words: str, columns: tuple[str, ...], x: float
) -> Callout:
    failing = [column for column in columns if column in car.failing]
    value = car.first_of(*failing, *columns)
    across, top = frame.at(x, 0)
    # ISO 129: a figure that only follows from others stands in brackets.
    figure = shown_number(value) if value is not None else None
    return Callout(
        x=across,
        top=top,
        words=words,
        value=figure or f"({shown_number(frame.gap(x, 0))})",
        marked=bool(car.failing.intersection(columns)),
    )
