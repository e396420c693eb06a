"""Where to measure body, chassis, guide, gear and motor, and what is looked at."""

import math

from inspection.drawing.dimensions import ground_line
from inspection.drawing.gear import toothed
from inspection.drawing.measured_stance import body_from_behind
from inspection.drawing.scene import (
    GROUND,
    PLAN,
    WIDTH,
    Scene,
    caliper,
    draw_plan,
    draw_rear,
    draw_side,
    measured,
    motor,
    plan_at,
    witness,
)
from inventory.drawing.svg import Pen, Point

_SIDE_BODY = (
    "M14 106C16 92 30 88 58 84L92 78C104 66 118 60 140 60C164 60 182 68 196 80"
    "L226 84V106"
)
_TEETH, _RADIUS = 20, 42.0


def body_width(scene: Scene) -> None:
    """Show the body's width, or how far a tyre stands out of it."""
    frame = draw_rear(scene)
    body_from_behind(scene)
    left, right = WIDTH / 2 - 98, WIDTH / 2 + 98
    if scene.has("outside"):
        tyre = frame.at(34.5, 10)[0]
        witness(scene.drawing, (tyre, 60), (tyre, 36))
        witness(scene.drawing, (left, 70), (left, 36))
        measured(scene.drawing, (left, 42), (tyre, 42))
        return
    for x in (left, right):
        witness(scene.drawing, (x, 70), (x, 10))
    measured(scene.drawing, (left, 16), (right, 16))


def body_length(scene: Scene) -> None:
    draw_side(scene)
    scene.drawing.path(Pen.LINE, _SIDE_BODY)
    for x in (14, 226):
        witness(scene.drawing, (x, 82), (x, 30))
    measured(scene.drawing, (14, 36), (226, 36))


def body_height(scene: Scene) -> None:
    draw_side(scene)
    scene.drawing.path(Pen.LINE, _SIDE_BODY)
    witness(scene.drawing, (60, 60), (144, 60))
    measured(scene.drawing, (66, 60), (66, GROUND))


def chassis_width(scene: Scene) -> None:
    """Show the width, half of it at an axle, or the plate's thickness."""
    drawing = scene.drawing
    if scene.has("thickness"):
        drawing.rectangle(Pen.TINT, (30, 72), 180, 16)
        caliper(drawing, (110, 72), (110, 88), reach=46)
        return
    draw_plan(drawing)
    if scene.has("half_width"):
        x = 92.0 if scene.end == "front" else 0.0
        half = 9.0 if scene.end == "front" else 17.0
        start, end = _in_plan(x, 0), _in_plan(x, half)
        drawing.line(Pen.CENTRE, _in_plan(-20, 0), _in_plan(116, 0))
    else:
        start, end = _in_plan(18, -17), _in_plan(18, 17)
    measured(drawing, start, end)


def _in_plan(x: float, y: float) -> Point:
    return plan_at(x, y, origin=PLAN)


def scale(scene: Scene) -> None:
    """Show the car, or the body alone, on the scale."""
    drawing = scene.drawing
    drawing.path(
        Pen.LINE,
        "M24 70C26 58 40 54 64 51L94 46C106 34 118 30 138 30"
        "C160 30 176 38 188 48L216 52V70z",
    )
    if not scene.has("body"):
        for x, radius in ((62.0, 14.0), (180.0, 16.0)):
            drawing.circle(Pen.RUBBER, (x, 84 - radius), radius)
            drawing.circle(Pen.OUTLINE, (x, 84 - radius), radius * 0.6)
    else:
        drawing.line(Pen.LINE, (24, 70), (24, 84), (216, 84), (216, 70))
    drawing.rectangle(Pen.TINT, (16, 84), 208, 7)
    drawing.shape(Pen.OUTLINE, [(36, 98), (204, 98), (218, 136), (22, 136)])
    drawing.line(Pen.LINE, (120, 91), (120, 98))
    drawing.rectangle(Pen.HAND_LINE, (92, 106), 56, 20)
    drawing.text(Pen.VALUE, (120, 121), "g", anchor="middle")


def guide(scene: Scene) -> None:
    """Show the guide's blade, its thickness, or its flange over the chassis."""
    drawing = scene.drawing
    if scene.has("width"):
        drawing.rectangle(Pen.OUTLINE, (112, 20), 16, 34)
        drawing.rectangle(Pen.OUTLINE, (84, 54), 72, 9)
        drawing.rectangle(Pen.OUTLINE, (111, 63), 18, 56)
        witness(drawing, (111, 119), (111, 142))
        witness(drawing, (129, 119), (129, 142))
        measured(drawing, (111, 136), (129, 136))
        return
    drawing.rectangle(Pen.TINT, (90, 50), 140, 8)
    drawing.rectangle(Pen.OUTLINE, (92, 26), 14, 38)
    drawing.rectangle(Pen.OUTLINE, (48, 64), 102, 9)
    drawing.shape(Pen.OUTLINE, [(58, 73), (140, 73), (140, 126), (70, 126)])
    if scene.has("flange"):
        witness(drawing, (150, 73), (200, 73))
        measured(drawing, (190, 58), (190, 73))
        return
    witness(drawing, (140, 126), (182, 126))
    witness(drawing, (150, 73), (182, 73))
    measured(drawing, (174, 73), (174, 126))


def can(scene: Scene) -> None:
    """Show the motor's height, width or length as mounted."""
    drawing = scene.drawing
    if scene.has("width"):
        drawing.rectangle(Pen.OUTLINE, (78, 40), 76, 60)
        drawing.circle(Pen.OUTLINE, (116, 70), 14)
        drawing.circle(Pen.INK, (116, 70), 4)
        caliper(drawing, (78, 76), (154, 76), reach=46)
        return
    motor(drawing, (56, 44), (106, 60))
    if scene.has("length"):
        caliper(drawing, (56, 84), (162, 84), reach=40)
    else:
        caliper(drawing, (92, 44), (92, 104), reach=62)


def can_place(scene: Scene) -> None:
    """Show where the can starts and ends along the car, or half its width."""
    drawing = scene.drawing
    if scene.has("half_width"):
        frame = draw_rear(scene)
        x, y = frame.at(0, 13.5)
        edge = frame.at(5.5, 13.5)[0]
        drawing.line(Pen.CENTRE, (x, 40), (x, GROUND))
        witness(drawing, (edge, y), (edge, 52))
        measured(drawing, (edge, 58), (x, 58))
        return
    frame = draw_side(scene)
    axle = frame.at(0, 0)[0]
    end = frame.at(42.0 if scene.has("front") else 14.0, 0)[0]
    witness(drawing, (axle, 80), (axle, 46))
    witness(drawing, (end, 92), (end, 46))
    measured(drawing, (end, 52), (axle, 52))


def motor_height(scene: Scene) -> None:
    """Show the can over the flat of the chassis, or its shaft over either."""
    drawing = scene.drawing
    ground_line(drawing, 122, start=0, end=WIDTH)
    drawing.rectangle(Pen.TINT, (20, 114), 200, 8)
    motor(drawing, (52, 40), (106, 62))
    shaft, foot, datum = 71.0, 102.0, 122.0
    if scene.has("shaft_height_in_can"):
        top, bottom, x = shaft, foot, 176.0
    elif scene.has("lift"):
        top, bottom, x = foot, datum, 138.0 if not scene.has("front") else 72.0
    else:
        top, bottom, x = shaft, datum, 182.0
    if x > 160:
        witness(drawing, (158, bottom), (x + 8, bottom))
    measured(drawing, (x, top), (x, bottom))


def motor_axle_offset(scene: Scene) -> None:
    """Show the axle's middle over the motor's shaft."""
    drawing = scene.drawing
    motor(drawing, (20, 58), (86, 56))
    drawing.circle(Pen.HIDDEN, (184, 72), 42)
    drawing.circle(Pen.OUTLINE, (184, 72), 6)
    drawing.line(Pen.CENTRE, (10, 86), (176, 86))
    drawing.line(Pen.CENTRE, (120, 72), (234, 72))
    measured(drawing, (152, 72), (152, 86))


def gear_diameter(scene: Scene) -> None:
    drawing = scene.drawing
    centre = (100.0, 84.0)
    drawing.shape(Pen.TINT, toothed(centre, _RADIUS, 9, _TEETH))
    drawing.circle(Pen.OUTLINE, centre, 6)
    caliper(drawing, (58, 84), (142, 84), reach=-60)


def gear_place(scene: Scene) -> None:
    frame = draw_rear(scene)
    middle, gear = frame.at(0, 17)[0], frame.at(-9, 17)[0]
    scene.drawing.line(Pen.CENTRE, (middle, 34), (middle, GROUND))
    witness(scene.drawing, (gear, 66), (gear, 36))
    measured(scene.drawing, (middle, 42), (gear, 42))


def teeth(scene: Scene) -> None:
    """Show a gear with one tooth marked, and the way round."""
    drawing = scene.drawing
    centre = (120.0, 80.0)
    drawing.shape(Pen.TINT, toothed(centre, _RADIUS, 9, _TEETH))
    drawing.circle(Pen.OUTLINE, centre, 6)
    drawing.circle(Pen.HAND, (120, 80 + _RADIUS - 3), 4)
    radius = _RADIUS + 12
    end = (120 + radius * math.sin(math.radians(55)), 80 + radius * 0.574)
    drawing.path(
        Pen.HAND_LINE,
        f"M120 {80 + radius}A{radius} {radius} 0 1 1 {end[0]:.1f} {end[1]:.1f}",
    )
    drawing.shape(
        Pen.HAND,
        [
            (end[0] - 7, end[1] + 8),
            (end[0] - 3.5, end[1] - 2),
            (end[0] + 4, end[1] + 1),
        ],
    )


def magnet_pull(scene: Scene) -> None:
    """Show the car on the steel strip of the pull scale."""
    frame = draw_side(scene)
    drawing = scene.drawing
    drawing.shape(Pen.INK, frame.box((50, 60), (-0.8, 2.4)))
    x = frame.at(55, 0)[0]
    drawing.rectangle(Pen.OUTLINE, (x - 22, GROUND), 44, 6)
    drawing.line(Pen.HAND_LINE, (x, GROUND + 6), (x, 146))
    drawing.shape(Pen.HAND, [(x, 149), (x - 3, 140), (x + 3, 140)])


def motor_bench(scene: Scene) -> None:
    """Show the motor on the bench with leads at its tabs, or its shaft turning."""
    drawing = scene.drawing
    motor(drawing, (70, 50), (96, 56))
    drawing.path(Pen.LINE, "M70 62H44V30H24M70 94H44V126H24")
    if scene.has("speed"):
        drawing.path(Pen.HAND_LINE, "M204 60A20 20 0 1 1 204 96")
        drawing.shape(Pen.HAND, [(196, 104), (203, 93), (207, 101)])
        return
    for y in (62, 94):
        drawing.circle(Pen.HAND, (70, y), 4)
    drawing.circle(Pen.OUTLINE, (24, 78), 16)
    drawing.line(Pen.LINE, (24, 30), (24, 62))
    drawing.line(Pen.LINE, (24, 94), (24, 126))
    drawing.text(Pen.VALUE, (24, 83), "Ω", anchor="middle")


def look(scene: Scene) -> None:
    """Show that this is looked at, not measured."""
    drawing = scene.drawing
    drawing.path(Pen.LINE, "M52 75Q120 10 188 75Q120 140 52 75z")
    drawing.circle(Pen.OUTLINE, (120, 75), 26)
    drawing.circle(Pen.HAND, (120, 75), 10)
