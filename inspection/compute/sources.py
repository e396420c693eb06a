"""Where the value that a rule sees comes from, the nearest source first."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from inspection.compute.entries import PartPosition
from inventory.compute.stock import PartQuantity


class Source(StrEnum):
    """The first of these that has a value gives it; they are never averaged."""

    TAKEN = "this sheet"
    CARRIED = "carried over"
    FITTED_PART = "fitted part"
    STORED = "stored geometry"
    DECLARED = "declared"


_CORNERS = {
    PartPosition.REAR_LEFT: ("rear", "_left"),
    PartPosition.REAR_RIGHT: ("rear", "_right"),
    PartPosition.FRONT_LEFT: ("front", "_left"),
    PartPosition.FRONT_RIGHT: ("front", "_right"),
}

#: The column of a car that a part's measured size gives, by where it sits.
PART_COLUMNS: Mapping[tuple[PartPosition, PartQuantity], str] = MappingProxyType(
    {
        **{
            (position, PartQuantity.TYRE_DIAMETER): f"tyre_diameter_{end}{side}"
            for position, (end, side) in _CORNERS.items()
        },
        (PartPosition.REAR_LEFT, PartQuantity.TYRE_WIDTH): "tyre_width_rear",
        (PartPosition.FRONT_LEFT, PartQuantity.TYRE_WIDTH): "tyre_width_front",
        (PartPosition.REAR_LEFT, PartQuantity.TYRE_HARDNESS): "tyre_hardness",
        (PartPosition.GEAR, PartQuantity.GEAR_DIAMETER): "gear_diameter",
        (PartPosition.MOTOR, PartQuantity.CAN_HEIGHT): "can_height",
        (PartPosition.MOTOR, PartQuantity.CAN_WIDTH): "can_width",
        (PartPosition.MOTOR, PartQuantity.CAN_LENGTH): "can_length",
        (PartPosition.MOTOR, PartQuantity.MOTOR_SPEED): "motor_speed",
        (PartPosition.MOTOR, PartQuantity.MOTOR_RESISTANCE): "motor_resistance",
    }
)

#: The column that a gear's count of teeth gives.
TEETH_COLUMNS: Mapping[PartPosition, str] = MappingProxyType(
    {
        PartPosition.GEAR: "teeth_gear",
        PartPosition.PINION: "teeth_pinion",
    }
)
