"""The car in its jig, to scale: jig tyre, spacer, motor and the axle's line."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.drawing.dimensions import (
    dimension_down,
    ground_line,
)
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen

WIDTH, ABOVE, PICTURE = 400.0, 40.0, 150.0
CAN_LENGTH, PLATE, BEHIND, AXLE = 30.0, 1.2, 6.0, 2.4
GAP = 7.0


@dataclass(frozen=True, kw_only=True)
class JigPicture:
    """
    What stands in the jig, in millimetres.

    The offset is how far the axle's centre is to be over the motor's shaft.
    """

    jig_tyre_diameter_mm: float
    can_height_mm: float
    spacer_mm: float
    motor_lift_mm: float = 0.0
    axle_offset_mm: float = 0.0


def draw_jig(jig: JigPicture) -> str:
    """Draw the jig from the left side, nose to the left."""
    scale = _scale(jig)
    plate = ABOVE + _height(jig) * scale
    drawing = Drawing(
        WIDTH,
        plate + 42,
        title=_("Jig set-up to scale"),
        description=" ".join(describe_jig(jig)),
    )
    drawing.text(Pen.SMALL, (6, 13), _("In the jig, from the left, mm"))
    ground_line(drawing, plate, start=0, end=WIDTH)
    axle = (WIDTH * 0.66, plate - jig.jig_tyre_diameter_mm / 2 * scale)
    _paint_motor(drawing, jig, (axle[0], plate), scale)
    _paint_chassis(drawing, jig, (axle[0], plate), scale)
    _paint_tyre(drawing, jig, axle, scale)
    _dimension(drawing, jig, (axle[0], plate), scale)
    return drawing.svg()


def describe_jig(jig: JigPicture) -> list[str]:
    """Say what to set up, and what is wrong with it."""
    rows = [
        (_("Jig tyre %(value)s mm."), jig.jig_tyre_diameter_mm),
        (_("Spacer under the chassis %(value)s mm."), jig.spacer_mm),
        (_("Motor %(value)s mm high as mounted."), jig.can_height_mm),
        (_("Motor lifted over the chassis by %(value)s mm."), jig.motor_lift_mm),
        (_("Axle over the motor's shaft by %(value)s mm."), jig.axle_offset_mm),
    ]
    sentences = [words % {"value": shown_number(value)} for words, value in rows]
    if jig.spacer_mm < 0:
        words = _("The jig tyres are too small: the chassis would be in the jig plate.")
        sentences.append(words)
    return sentences


def _height(jig: JigPicture) -> float:
    top = jig.spacer_mm + jig.motor_lift_mm + jig.can_height_mm
    return max(jig.jig_tyre_diameter_mm, top)


def _scale(jig: JigPicture) -> float:
    length = GAP + CAN_LENGTH + jig.jig_tyre_diameter_mm / 2 + 12
    return min(PICTURE / _height(jig), WIDTH * 0.9 / length)


def _paint_tyre(
    drawing: Drawing, jig: JigPicture, axle: tuple[float, float], scale: float
) -> None:
    (x, y), radius = axle, jig.jig_tyre_diameter_mm / 2 * scale
    drawing.circle(Pen.HIDDEN, axle, radius)
    drawing.circle(Pen.OUTLINE, axle, AXLE / 2 * scale)
    drawing.line(Pen.CENTRE, (x, y - radius - 6), (x, y + radius))
    drawing.line(Pen.CENTRE, (16, y), (x + radius + 10, y))


def _paint_motor(
    drawing: Drawing, jig: JigPicture, foot: tuple[float, float], scale: float
) -> None:
    x, plate = foot
    right = x - GAP * scale
    low = plate - (jig.spacer_mm + jig.motor_lift_mm) * scale
    high = jig.can_height_mm * scale
    width = CAN_LENGTH * scale
    drawing.rectangle(Pen.OUTLINE, (right - width, low - high), width, high)
    shaft = low - high / 2
    drawing.rectangle(Pen.OUTLINE, (right, shaft - scale), (GAP - 3) * scale, 2 * scale)
    drawing.line(Pen.CENTRE, (right - width - 5, shaft), (x - 2 * scale, shaft))


def _paint_chassis(
    drawing: Drawing, jig: JigPicture, foot: tuple[float, float], scale: float
) -> None:
    """Draw the chassis on its spacer; a spacer below the plate is marked."""
    x, plate = foot
    datum = plate - jig.spacer_mm * scale
    left, right = 30.0, x + BEHIND * scale
    thick = PLATE * scale
    drawing.rectangle(Pen.TINT, (left, datum - thick), right - left, thick)
    if jig.spacer_mm > 0:
        for start in (left + 18, right - 62):
            drawing.rectangle(Pen.RUBBER, (start, datum), 44, plate - datum)
    elif jig.spacer_mm < 0:
        drawing.line(Pen.LIMIT, (left, datum), (right, datum))


def _dimension(
    drawing: Drawing, jig: JigPicture, foot: tuple[float, float], scale: float
) -> None:
    x, plate = foot
    radius = jig.jig_tyre_diameter_mm / 2 * scale
    tyre = f"⌀{shown_number(jig.jig_tyre_diameter_mm)}"
    ends = ((x, plate - 2 * radius), (x, plate))
    dimension_down(drawing, ends, x + radius + 26, tyre)
    low = plate - (jig.spacer_mm + jig.motor_lift_mm) * scale
    can = ((x - (GAP + CAN_LENGTH) * scale, low - jig.can_height_mm * scale),)
    high = shown_number(jig.can_height_mm)
    dimension_down(drawing, (can[0], (can[0][0], low)), can[0][0] - 18, high)
    _words_below(drawing, jig, plate)


def _words_below(drawing: Drawing, jig: JigPicture, plate: float) -> None:
    """Call the spacer out under the plate, with a leader from its middle."""
    y = plate + 27
    drawing.line(Pen.THIN, (70, plate - 1), (70, y - 1))
    drawing.label((74, y), _("spacer"), shown_number(jig.spacer_mm), Pen.VALUE)
    lift = shown_number(jig.motor_lift_mm)
    drawing.label((162, y), _("motor lift"), lift, Pen.VALUE)
    offset = shown_number(jig.axle_offset_mm, signed=True)
    drawing.label((274, y), _("axle offset"), offset, Pen.VALUE)
