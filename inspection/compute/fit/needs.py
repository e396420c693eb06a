"""
What of a car each question rests on: sizes of the car, its room, the parts on it.

A question is one that a member asks: does a gear clear the track, do the teeth run.
What is looked for brings its own sizes; these are the car's.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from inspection.compute.fit.checks import Check
from inspection.compute.night import PartPosition
from inspection.compute.quantities import WORDS_OF_CAR, FrontCarrier, Layout
from inspection.compute.stance import readings_behind
from inspection.compute.what_if import TYRES
from inventory.compute.stock import PartQuantity


class NeedKind(StrEnum):
    """Where a size of a car is kept."""

    COLUMN = "column"
    ROOM = "room"
    PART = "part"


@dataclass(frozen=True, kw_only=True, order=True)
class Need:
    """
    One thing to be known of a car.

    ``name`` is a column, a size of `MOUNTING_SIZES`, or a size or fact of the part
    that sits at ``position``.
    """

    kind: NeedKind
    name: str
    position: PartPosition | None = None


@dataclass(frozen=True, kw_only=True)
class Unlock:
    """A question of a car, the checks that answer it, and what they rest on."""

    title: str
    checks: tuple[Check, ...]
    needs: tuple[Need, ...]


#: A car says these of itself.
OF_THE_CAR: Final = frozenset(WORDS_OF_CAR)
#: Facts of a part, as a need names them.
PITCH: Final = "pitch_name"


def needs_of(layout: Layout, carrier: FrontCarrier) -> tuple[Unlock, ...]:
    """
    Say what of a car has to be known for each question about it.

    Parameters
    ----------
    layout : Layout
        How the motor sits.
    carrier : FrontCarrier
        What carries the front.

    Returns
    -------
    tuple of Unlock
        The questions of such a car; each need once in a question.

    Examples
    --------
    >>> questions = needs_of(Layout.SIDEWINDER, FrontCarrier.FRONT_WHEELS)
    >>> [one.title for one in questions][:2]
    ['Ground check', 'Pitch, ratio and rollout']
    """
    in_line = layout is Layout.IN_LINE
    ground = readings_behind("clearance_gear", carrier)
    questions = [
        Unlock(
            title="Ground check",
            checks=(Check.GROUND, Check.DIAMETER),
            needs=_columns(*(one for one in ground if one != "gear_diameter")),
        ),
        Unlock(
            title="Pitch, ratio and rollout",
            checks=(Check.PITCH, Check.TEETH, Check.RATIO, Check.ROLLOUT),
            needs=(
                _part(PartPosition.PINION, PITCH),
                *_columns("teeth_pinion", "teeth_gear", *TYRES),
                _part(PartPosition.GEAR, PITCH),
            ),
        ),
        Unlock(
            title="A gear on its axle",
            checks=(Check.BORE, Check.CHASSIS_BAR, Check.ROOM),
            needs=(
                *_columns("axle_diameter"),
                *_room("axle_to_bar_mm"),
                *(() if in_line else _room("axle_room_mm")),
            ),
        ),
        _crown(carrier) if in_line else _spur(),
        Unlock(
            title="A pinion on its shaft",
            checks=(Check.BORE, Check.PINION_LENGTH),
            needs=(
                _part(PartPosition.MOTOR, PartQuantity.SHAFT_DIAMETER),
                _part(PartPosition.MOTOR, PartQuantity.SHAFT_LENGTH),
                _part(PartPosition.PINION, PartQuantity.BORE),
                _part(PartPosition.PINION, PartQuantity.HUB_WIDTH),
            ),
        ),
        Unlock(
            title="Tyres",
            checks=(Check.BORE, Check.TYRE_WIDTH),
            needs=(*_columns("axle_diameter"), *_room("arch_width_mm")),
        ),
        Unlock(
            title="Motors",
            checks=(Check.CAN_HEIGHT, Check.CAN_WIDTH, Check.CAN_LENGTH),
            needs=_room("bay_height_mm", "bay_width_mm", "bay_length_mm"),
        ),
        Unlock(title="Wear of the tyres", checks=(), needs=_columns(*TYRES)),
    ]
    return tuple(questions)


def _spur() -> Unlock:
    return Unlock(
        title="Mesh in the motor's slot",
        checks=(Check.MESH, Check.CONTACT, Check.CONTACT_AS_CUT),
        needs=(
            *_room("slot_low_mm", "slot_high_mm"),
            *_columns("teeth_pinion", "teeth_gear"),
            _part(PartPosition.PINION, PITCH),
        ),
    )


def _crown(carrier: FrontCarrier) -> Unlock:
    heights = readings_behind("motor_axis_height", carrier)
    return Unlock(
        title="A crown and its pinion",
        checks=(
            Check.CROWN_CUT,
            Check.CROWN_SEAT,
            Check.CROWN_FACE,
            Check.SHAFT_END,
            Check.MOTOR_AXLE_OFFSET,
            Check.LIFT,
        ),
        needs=(
            *_room("shaft_to_bearing_mm", "spacers_mm", "shaft_end_mm"),
            *_room("lift_low_mm", "lift_high_mm"),
            *_columns("teeth_pinion", "gear_diameter", "axle_diameter"),
            *_columns("axle_height_rear_left", "axle_height_rear_right", *heights),
            _part(PartPosition.PINION, PITCH),
            _part(PartPosition.PINION, PartQuantity.FACE_WIDTH),
            _part(PartPosition.PINION, PartQuantity.HUB_WIDTH),
            _part(PartPosition.MOTOR, PartQuantity.SHAFT_LENGTH),
            _part(PartPosition.GEAR, PartQuantity.CROWN_DEPTH),
            _part(PartPosition.GEAR, PartQuantity.FACE_WIDTH),
            _part(PartPosition.GEAR, PartQuantity.HUB_WIDTH),
        ),
    )


def _columns(*names: str) -> tuple[Need, ...]:
    return tuple(
        Need(kind=NeedKind.COLUMN, name=name)
        for name in dict.fromkeys(names)
        if name not in OF_THE_CAR
    )


def _room(*names: str) -> tuple[Need, ...]:
    return tuple(Need(kind=NeedKind.ROOM, name=name) for name in names)


def _part(position: PartPosition, name: str) -> Need:
    return Need(kind=NeedKind.PART, name=str(name), position=position)
