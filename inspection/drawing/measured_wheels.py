"""Where to measure axles, wheels and tyres."""

import math

from inspection.drawing.scene import (
    GROUND,
    PLAN,
    TRACK,
    TYRE_WIDTH,
    WHEELBASE,
    Scene,
    angle,
    caliper,
    dial,
    draw_place_key,
    draw_plan,
    draw_rear,
    measured,
    plan_at,
    wheel,
    witness,
)
from inventory.drawing.svg import Pen, Point

_CENTRE = (96.0, 84.0)


def _in_plan(x: float, y: float) -> Point:
    return plan_at(x, y, origin=PLAN)


def tyre_diameter(scene: Scene) -> None:
    wheel(scene.drawing, _CENTRE)
    x, y = _CENTRE
    caliper(scene.drawing, (x - 40, y), (x + 40, y), reach=-60)
    draw_place_key(scene)


def rim_diameter(scene: Scene) -> None:
    wheel(scene.drawing, _CENTRE)
    x, y = _CENTRE
    caliper(scene.drawing, (x - 25, y), (x + 25, y), reach=-60)


def tyre_form(scene: Scene) -> None:
    """Show three angles on the side of a tyre, three sections on its tread."""
    drawing = scene.drawing
    wheel(drawing, (66, 80), radius=38)
    for angle_deg in (30, 90, 150):
        radians = math.radians(angle_deg)
        dx, dy = 42 * math.cos(radians), 42 * math.sin(radians)
        ends = ((66 - dx, 80 - dy), (66 + dx, 80 + dy))
        drawing.line(Pen.HAND_LINE, *ends)
    drawing.shape(Pen.RUBBER, [(146, 40), (206, 43), (206, 117), (146, 120)])
    for x in (154, 176, 198):
        drawing.line(Pen.HAND_LINE, (x, 34), (x, 126))


def tyre_width(scene: Scene) -> None:
    drawing = scene.drawing
    drawing.rectangle(Pen.RUBBER, (78, 58), 44, 76)
    drawing.line(Pen.CENTRE, (52, 96), (148, 96))
    caliper(drawing, (78, 84), (122, 84), reach=-46)
    draw_place_key(scene)


def tyre_hardness(scene: Scene) -> None:
    drawing = scene.drawing
    wheel(drawing, (120, 108), radius=36)
    drawing.rectangle(Pen.HAND, (106, 66), 28, 6)
    drawing.rectangle(Pen.OUTLINE, (112, 48), 16, 18)
    drawing.circle(Pen.OUTLINE, (120, 30), 18)
    drawing.line(Pen.HAND_LINE, (120, 30), (130, 20))
    draw_place_key(scene)


def run_out(scene: Scene) -> None:
    drawing = scene.drawing
    wheel(drawing, (110, 104), radius=38)
    dial(drawing, (110, 66), up=22)
    drawing.path(Pen.HAND_LINE, "M160 84A54 54 0 0 1 160 124")
    drawing.shape(Pen.HAND, [(158, 132), (155.4, 122), (163.6, 125)])


def width(scene: Scene) -> None:
    """Show the width over the tyres, or the track from middle to middle."""
    frame = draw_rear(scene)
    half = (TRACK if scene.has("track") else TRACK + TYRE_WIDTH) / 2
    left, right = frame.at(half, 19.4), frame.at(-half, 19.4)
    for place in (left, right):
        witness(scene.drawing, (place[0], place[1] - 2), (place[0], 38))
    measured(scene.drawing, (left[0], 44), (right[0], 44))
    draw_place_key(scene)


def axle_height(scene: Scene) -> None:
    """Show the bare axle over the block at two places, or the span between them."""
    drawing = scene.drawing
    frame = draw_rear(scene, wheels=False)
    left, right = frame.at(22, 8.4), frame.at(-22, 8.4)
    if scene.has("span"):
        witness(drawing, (left[0], left[1] - 5), (left[0], 48))
        witness(drawing, (right[0], right[1] - 5), (right[0], 48))
        measured(drawing, (left[0], 54), (right[0], 54))
    else:
        for side in scene.sides:
            x, y = left if side > 0 else right
            measured(drawing, (x, y), (x, GROUND))
    draw_place_key(scene)


def axle_play(scene: Scene) -> None:
    """Show an axle in its bearing, loose up and down or from side to side."""
    drawing = scene.drawing
    drawing.rectangle(Pen.TINT, (96, 30), 30, 90)
    if scene.has("side"):
        drawing.rectangle(Pen.OUTLINE, (40, 66), 170, 18)
        drawing.rectangle(Pen.TINT, (142, 56), 16, 38)
        measured(drawing, (126, 62), (142, 62))
    else:
        drawing.rectangle(Pen.HIDDEN, (40, 54), 170, 30)
        drawing.rectangle(Pen.OUTLINE, (40, 66), 170, 18)
        measured(drawing, (172, 54), (172, 66))


def axle_diameter(scene: Scene) -> None:
    drawing = scene.drawing
    drawing.rectangle(Pen.OUTLINE, (30, 72), 180, 22)
    drawing.line(Pen.CENTRE, (22, 83), (218, 83))
    caliper(drawing, (104, 72), (104, 94), reach=46)


def axle_square(scene: Scene) -> None:
    """Show the distances from the rear axle to a square edge ahead."""
    drawing = scene.drawing
    draw_plan(drawing)
    reference = 62.0
    drawing.line(Pen.LINE, _in_plan(reference, -24), _in_plan(reference, 24))
    if scene.has("span"):
        measured(drawing, _in_plan(34, -13), _in_plan(34, 13))
        return
    for side in scene.sides:
        measured(drawing, _in_plan(reference, side * 13), _in_plan(0, side * 13))
    if scene.column == "axle_square":
        angle(drawing, _in_plan(0, 0), reach=-60, turn=-6)


def wheelbase(scene: Scene) -> None:
    """Show the wheelbase along one side, seen from above."""
    drawing = scene.drawing
    draw_plan(drawing)
    tyre = scene.side_sign * TRACK / 2
    y = tyre + scene.side_sign * 11
    for x in (0.0, WHEELBASE):
        witness(drawing, _in_plan(x, tyre), _in_plan(x, y + scene.side_sign * 2))
    measured(drawing, _in_plan(WHEELBASE, y), _in_plan(0, y))
