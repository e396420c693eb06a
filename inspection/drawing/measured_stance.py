"""Where to measure how the car stands: clearances, heights and attitude."""

from inspection.drawing.dimensions import ground_line
from inspection.drawing.scene import (
    GAP,
    GROUND,
    LEAD,
    PLAN,
    WHEELBASE,
    WIDTH,
    Scene,
    angle,
    draw_place_key,
    draw_plan,
    draw_rear,
    draw_side,
    measured,
    plan_at,
    slip,
    witness,
)
from inventory.drawing.svg import Pen


def clearance_chassis(scene: Scene) -> None:
    """Show the slip under the chassis: rear, front, or all along."""
    frame = draw_side(scene)
    front, back = (46.0, 26.0)
    if scene.has("front"):
        front, back = WHEELBASE - 14, WHEELBASE - 34
    elif not scene.has("rear"):
        front, back = 78.0, 14.0
    top = frame.at(0, 0)[1]
    slip(scene.drawing, frame.at(front, 0)[0], frame.at(back, 0)[0], top=top)


def clearance_gear(scene: Scene) -> None:
    frame = draw_rear(scene)
    x, top = frame.at(-9.0, 8.4 - 8.5)
    slip(scene.drawing, x - 10, x + 10, top=top)


def clearance_motor(scene: Scene) -> None:
    frame = draw_rear(scene)
    x, top = frame.at(0, 0.5)
    slip(scene.drawing, x - 14, x + 14, top=top)


def clearance_magnet(scene: Scene) -> None:
    frame = draw_side(scene)
    corners = frame.box((50, 60), (-0.8, 2.4))
    scene.drawing.shape(Pen.INK, corners)
    x, top = frame.at(55, -0.8)
    slip(scene.drawing, x - 12, x + 12, top=top)


def body_from_behind(scene: Scene) -> None:
    """Draw the body about the car, from behind."""
    x, half, foot, roof = WIDTH / 2, 98.0, GROUND - 12, 26.0
    scene.drawing.path(
        Pen.LINE,
        f"M{x - half} {foot}V{foot - 34}L{x - 62} 62L{x - 44} {roof}"
        f"H{x + 44}L{x + 62} 62L{x + half} {foot - 34}V{foot}",
    )


def clearance_body(scene: Scene) -> None:
    draw_rear(scene)
    body_from_behind(scene)
    x = WIDTH / 2 - 98
    slip(scene.drawing, x - 8, x + 8, top=GROUND - 12)


def ride_height(scene: Scene) -> None:
    """Show both edges of the flat over the block, under the axle."""
    frame = draw_rear(scene)
    for y in (17.0, -17.0):
        x, top = frame.at(y, 0)
        measured(scene.drawing, (x, top), (x, GROUND))
    draw_place_key(scene)


def twist(scene: Scene) -> None:
    """Show three tyres on the block, and the front right one off it."""
    drawing = scene.drawing
    rear_left, rear_right = (188, 124), (212, 74)
    front_left, front_right = (40, 108), (64, 58)
    block = [(14, 132), (204, 140), (236, 62), (46, 52)]
    drawing.shape(Pen.TINT, block)
    lifted = (front_right[0], front_right[1] - 16)
    drawing.shape(Pen.HIDDEN, [rear_left, rear_right, front_right, front_left])
    drawing.line(Pen.LINE, rear_left, rear_right, lifted, front_left, rear_left)
    for place in (rear_left, rear_right, front_left):
        drawing.circle(Pen.INK, place, 5)
    drawing.circle(Pen.HAND, lifted, 5)
    measured(drawing, (front_right[0], lifted[1] + 5), front_right)
    witness(drawing, (front_right[0] - 12, front_right[1]), (front_right[0] + 12, 58))


def rake(scene: Scene) -> None:
    """Show the car nose down, and the angle of its underside above it."""
    draw_side(scene, slope=0.045)
    angle(scene.drawing, (24, 48), reach=190, turn=2.6)


def tilt(scene: Scene) -> None:
    """Show the car with its left side high, and the angle of its underside."""
    draw_rear(scene, slope=-0.05)
    angle(scene.drawing, (214, 42), reach=-190, turn=-2.9)


def tyre_sink(scene: Scene) -> None:
    """Show the axle over the block, the tyre pressed a little flat."""
    drawing = scene.drawing
    ground_line(drawing, GROUND, start=0, end=WIDTH)
    x, y, radius = 96.0, GROUND - 40.0, 44.0
    half = (radius**2 - (GROUND - y) ** 2) ** 0.5
    drawing.path(
        Pen.RUBBER,
        f"M{x - half:.1f} {GROUND}A{radius} {radius} 0 1 1 {x + half:.1f} {GROUND}z",
    )
    drawing.circle(Pen.OUTLINE, (x, y), radius * 0.6)
    drawing.circle(Pen.OUTLINE, (x, y), 5)
    drawing.circle(Pen.HIDDEN, (x, y - 4), radius)
    witness(drawing, (x, y), (164, y))
    measured(drawing, (158, y), (158, GROUND))


def outline(scene: Scene) -> None:
    """Show the corners of the underside, seen from above."""
    draw_plan(scene.drawing)
    for x, y in ((-15, 17), (-15, -17), (30, 17), (30, -17), (112, 4), (112, -4)):
        scene.drawing.circle(Pen.HAND, plan_at(x, y, origin=PLAN), 5)


def centre_of_gravity(scene: Scene) -> None:
    """Show the car on a round bar where it balances."""
    if scene.column.endswith("_y"):
        frame = draw_rear(scene)
        x, y = frame.at(0, 0)
    else:
        frame = draw_side(scene)
        x, y = frame.at(0.4 * WHEELBASE, 0)
        rear = frame.at(0, 0)[0]
        witness(scene.drawing, (rear, 60), (rear, 24))
        witness(scene.drawing, (x, y), (x, 24))
        measured(scene.drawing, (x, 30), (rear, 30))
    radius = GAP * frame.scale / 2
    scene.drawing.circle(Pen.HAND, (x, y + radius), radius)
    scene.drawing.line(Pen.CENTRE, (x, 20), (x, GROUND))


def guide_lead(scene: Scene) -> None:
    frame = draw_side(scene)
    post, axle = frame.at(LEAD, 4)[0], frame.at(0, 0)[0]
    witness(scene.drawing, (post, 100), (post, 30))
    witness(scene.drawing, (axle, 90), (axle, 30))
    measured(scene.drawing, (post, 36), (axle, 36))
