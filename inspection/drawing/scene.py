"""
What the pictures of where to measure are made of.

The car in them is nobody's: its gaps are larger than life, so that a slip in one
can be seen on a phone.  What is measured is drawn heavy.
"""

import math
from dataclasses import dataclass

from inspection.drawing.car import CarFigures, Frame
from inspection.drawing.dimensions import ground_line
from inspection.drawing.rear_view import paint_rear
from inspection.drawing.side_view import draw_block, paint_side
from inventory.drawing.svg import Drawing, Pen, Point

WIDTH, HEIGHT = 240.0, 150.0
GROUND = 118.0
HEAD, HALF_HEAD = 8.0, 2.4
JAW = 5.0

_VALUES = {
    "tyre_diameter_rear_left": 22.0,
    "tyre_diameter_rear_right": 22.0,
    "tyre_width_rear": 12.0,
    "track_rear": 57.0,
    "axle_height_rear_left": 8.4,
    "axle_height_rear_right": 8.4,
    "axle_station_span_rear": 27.0,
    "axle_diameter": 2.8,
    "datum_half_width_rear": 17.0,
    "chassis_thickness": 1.6,
    "gear_position_y": -9.0,
    "gear_diameter": 17.0,
    "can_half_width": 5.5,
    "can_height": 13.0,
    "motor_lift_rear": 0.5,
    "can_rear_x": 14.0,
    "can_front_x": 42.0,
    "wheelbase_left": 92.0,
    "wheelbase_right": 92.0,
    "tyre_diameter_front_left": 19.0,
    "tyre_diameter_front_right": 19.0,
    "axle_height_front_left": 6.9,
    "axle_height_front_right": 6.9,
    "guide_lead": 108.0,
    "guide_flange_height": -1.6,
    "guide_depth": 6.0,
    "chassis_tail": 15.0,
}
GAP = 2.6
TRACK, TYRE_WIDTH, WHEELBASE, LEAD = 57.0, 12.0, 92.0, 108.0
WHEEL_RADIUS = 40.0


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A picture in the making, and the column that it is for."""

    drawing: Drawing
    column: str

    def has(self, word: str) -> bool:
        """Say whether a word is part of the column's name."""
        return word in self.column

    @property
    def end(self) -> str:
        return "front" if self.has("front") else "rear"

    @property
    def side_sign(self) -> int:
        """Give +1 on the car's left, −1 on its right."""
        return -1 if self.column.endswith("_right") else 1

    @property
    def sides(self) -> tuple[int, ...]:
        """Give the one side that the column is for, else both."""
        one = self.column.endswith(("_left", "_right"))
        return (self.side_sign,) if one else (1, -1)


def rear_frame(*, slope: float = 0.0) -> Frame:
    return Frame(scale=2.6, origin=120, ground=GROUND, slope=slope, level=-GAP)


def side_frame(*, slope: float = 0.0) -> Frame:
    return Frame(scale=1.66, origin=202, ground=GROUND, slope=slope, level=-GAP)


def draw_rear(scene: Scene, *, slope: float = 0.0, wheels: bool = True) -> Frame:
    """Draw the car from behind on the block, or flat on it without wheels."""
    frame = rear_frame(slope=slope)
    values = dict(_VALUES)
    for side, y in (("left", TRACK / 2), ("right", -TRACK / 2)):
        # A car leans because its tyres differ: each reaches the block.
        name = f"tyre_diameter_rear_{side}"
        values[name] = 2 * (_VALUES["axle_height_rear_left"] + GAP - slope * y)
        if not wheels:
            del values[name]
    if not wheels:
        frame = Frame(scale=2.6, origin=120, ground=GROUND)
    ground_line(scene.drawing, GROUND, start=0, end=WIDTH)
    paint_rear(scene.drawing, CarFigures(values=values), frame)
    return frame


def draw_side(scene: Scene, *, slope: float = 0.0) -> Frame:
    """Draw the car from its left on the block."""
    frame = side_frame(slope=slope)
    front = 2 * (_VALUES["axle_height_front_left"] + GAP - slope * WHEELBASE)
    values = _VALUES | {
        "tyre_diameter_front_left": front,
        "tyre_diameter_front_right": front,
    }
    car = CarFigures(values=values, plane=(slope, 0.0, -GAP))
    draw_block(scene.drawing, car, frame)
    paint_side(scene.drawing, car, frame)
    return frame


def plan_at(x: float, y: float, *, scale: float = 1.66, origin: Point) -> Point:
    """Give the pixel of a place seen from above, nose to the left."""
    return origin[0] - x * scale, origin[1] + y * scale


PLAN = (202.0, 75.0)


def draw_plan(drawing: Drawing, *, origin: Point = PLAN, scale: float = 1.66) -> None:
    """Draw the car from above, nose to the left, its left side down."""

    def at(x: float, y: float) -> Point:
        return plan_at(x, y, scale=scale, origin=origin)

    outline = [(-15, 17), (30, 17), (48, 11), (100, 9), (112, 4)]
    mirrored = [(x, -y) for x, y in reversed(outline)]
    drawing.shape(Pen.OUTLINE, [at(x, y) for x, y in (*outline, *mirrored)])
    for x, radius, width in ((0.0, 11.0, 12.0), (WHEELBASE, 9.5, 7.0)):
        drawing.line(Pen.LINE, at(x, -TRACK / 2), at(x, TRACK / 2))
        for y in (-TRACK / 2, TRACK / 2):
            corner = at(x + radius, y - width / 2)
            drawing.rectangle(Pen.RUBBER, corner, 2 * radius * scale, width * scale)


def draw_place_key(scene: Scene) -> None:
    """Draw a small plan of the car with the wheel or axle concerned filled in."""
    if not (scene.has("rear") or scene.has("front")):
        return
    origin, scale = (226.0, 22.0), 0.36
    draw_plan(scene.drawing, origin=origin, scale=scale)
    x = WHEELBASE if scene.end == "front" else 0.0
    for side in scene.sides:
        corner = plan_at(x + 13, side * TRACK / 2 - 8, scale=scale, origin=origin)
        scene.drawing.rectangle(Pen.HAND, corner, 26 * scale, 16 * scale)


def measured(drawing: Drawing, start: Point, end: Point) -> None:
    """Draw what is measured: an arrow to both ends, from outside when it is short."""
    length = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    inside = length >= 2 * HEAD + 3
    tail = 0.0 if inside else 14.0
    drawing.line(
        Pen.HAND_LINE,
        (start[0] - ux * tail, start[1] - uy * tail),
        (end[0] + ux * tail, end[1] + uy * tail),
    )
    way = 1 if inside else -1
    _head(drawing, start, (-ux * way, -uy * way))
    _head(drawing, end, (ux * way, uy * way))


def _head(drawing: Drawing, tip: Point, towards: Point) -> None:
    (x, y), (dx, dy) = tip, towards
    back = (x - dx * HEAD, y - dy * HEAD)
    side = (-dy * HALF_HEAD, dx * HALF_HEAD)
    drawing.shape(
        Pen.HAND,
        [
            tip,
            (back[0] + side[0], back[1] + side[1]),
            (back[0] - side[0], back[1] - side[1]),
        ],
    )


def witness(drawing: Drawing, *points: Point) -> None:
    """Draw a thin line from a feature to the arrow that measures it."""
    drawing.line(Pen.HAND_THIN, *points)


def caliper(drawing: Drawing, start: Point, end: Point, *, reach: float) -> None:
    """Draw caliper jaws on both ends, the beam ``reach`` to the side of them."""
    length = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    nx, ny = -uy, ux

    def at(along: float, off: float) -> Point:
        return start[0] + ux * along + nx * off, start[1] + uy * along + ny * off

    sign = 1 if reach > 0 else -1
    for where, out in ((0.0, -JAW), (length, JAW)):
        jaw = [
            at(where, -6 * sign),
            at(where, reach),
            at(where + out, reach),
            at(where + out * 0.5, -6 * sign),
        ]
        drawing.shape(Pen.OUTLINE, jaw)
    beam = [
        at(-JAW - 3, reach),
        at(length + 24, reach),
        at(length + 24, reach + 6 * sign),
        at(-JAW - 3, reach + 6 * sign),
    ]
    drawing.shape(Pen.OUTLINE, beam)
    measured(drawing, start, end)


def slip(drawing: Drawing, left: float, right: float, *, top: float) -> None:
    """Draw a slip on the block, from its top down to the ground."""
    drawing.rectangle(Pen.HAND, (left, top), right - left, GROUND - top)


def dial(drawing: Drawing, tip: Point, *, up: float = 30.0) -> None:
    """Draw a dial indicator whose stem touches at ``tip`` from above."""
    x, y = tip
    drawing.line(Pen.HAND_LINE, tip, (x, y - up))
    drawing.circle(Pen.OUTLINE, (x, y - up - 13), 13)
    drawing.line(Pen.HAND_LINE, (x, y - up - 13), (x + 6, y - up - 20))


def wheel(drawing: Drawing, centre: Point, *, radius: float = WHEEL_RADIUS) -> None:
    """Draw a wheel with its tyre, from the side."""
    drawing.circle(Pen.RUBBER, centre, radius)
    drawing.circle(Pen.OUTLINE, centre, radius * 0.62)
    drawing.circle(Pen.OUTLINE, centre, radius * 0.12)


def motor(drawing: Drawing, corner: Point, size: Point) -> None:
    """Draw a motor from the side, its shaft to the right."""
    (x, y), (width, height) = corner, size
    drawing.rectangle(Pen.OUTLINE, corner, width, height)
    drawing.rectangle(Pen.OUTLINE, (x + width, y + height / 2 - 6), 8, 12)
    drawing.rectangle(Pen.OUTLINE, (x + width + 8, y + height / 2 - 2), 22, 4)


def angle(drawing: Drawing, corner: Point, *, reach: float, turn: float) -> None:
    """Draw an angle, heavy, from level, ``turn`` in degrees upwards."""
    x, y = corner
    radians = math.radians(turn)
    end = (x + reach * math.cos(radians), y - reach * math.sin(radians))
    drawing.line(Pen.HAND_THIN, (x, y), (x + reach, y))
    drawing.line(Pen.HAND_LINE, (x, y), end)
    inner = abs(reach) * 0.8
    start = (x + math.copysign(inner, reach), y)
    stop = (x + reach * 0.8 * math.cos(radians), y - reach * 0.8 * math.sin(radians))
    sweep = 0 if (turn > 0) == (reach > 0) else 1
    drawing.path(
        Pen.HAND_LINE,
        f"M{start[0]:.1f} {start[1]:.1f}A{inner:.1f} {inner:.1f} 0 0 {sweep} "
        f"{stop[0]:.1f} {stop[1]:.1f}",
    )
