"""The words of the parts inventory: kinds, states and moves of a part."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType


class PartKind(StrEnum):
    """What a part is."""

    TYRE = "tyre"
    GEAR = "gear"
    MOTOR = "motor"


class PartState(StrEnum):
    """Where a part stands."""

    IN_STOCK = "in stock"
    RESERVED = "reserved"
    FITTED = "fitted"
    RETIRED = "retired"


class Move(StrEnum):
    """A row of a part's history: what happened to it."""

    RECEIVE = "receive"
    RESERVE = "reserve"
    RELEASE = "release"
    HAND_OUT = "hand out"
    FIT = "fit"
    TAKE_BACK = "take back"
    RETIRE = "retire"
    SPLIT = "split"


#: From which states a move may start, and the state it ends in.
MOVES: Mapping[Move, tuple[frozenset[PartState], PartState]] = MappingProxyType(
    {
        Move.RECEIVE: (frozenset[PartState](), PartState.IN_STOCK),
        Move.RESERVE: (frozenset({PartState.IN_STOCK}), PartState.RESERVED),
        Move.RELEASE: (frozenset({PartState.RESERVED}), PartState.IN_STOCK),
        Move.HAND_OUT: (
            frozenset({PartState.IN_STOCK, PartState.RESERVED}),
            PartState.FITTED,
        ),
        Move.FIT: (
            frozenset({PartState.IN_STOCK, PartState.RESERVED}),
            PartState.FITTED,
        ),
        Move.TAKE_BACK: (
            frozenset({PartState.FITTED, PartState.RESERVED}),
            PartState.IN_STOCK,
        ),
        Move.RETIRE: (
            frozenset({PartState.IN_STOCK, PartState.RESERVED}),
            PartState.RETIRED,
        ),
        Move.SPLIT: (frozenset({PartState.IN_STOCK}), PartState.IN_STOCK),
    }
)


class GearRole(StrEnum):
    """What a gear does."""

    SPUR = "spur"
    CROWN = "crown"
    PINION = "pinion"


class Fixing(StrEnum):
    """How a gear, wheel or pinion holds on its shaft."""

    SCREW = "screw"
    PRESS = "press"
    SPLINED = "splined"
    SOLDERED = "soldered"


class Section(StrEnum):
    """Where across a tyre's tread a reading was taken."""

    INNER = "inner"
    MIDDLE = "middle"
    OUTER = "outer"


class PartQuantity(StrEnum):
    """What is measured on a part off the car."""

    TYRE_DIAMETER = "tyre_diameter"
    TYRE_WIDTH = "tyre_width"
    OUT_OF_ROUND = "out_of_round"
    TAPER = "taper"
    TYRE_HARDNESS = "tyre_hardness"
    BORE = "bore"
    GEAR_DIAMETER = "gear_diameter"
    HUB_WIDTH = "hub_width"
    FACE_WIDTH = "face_width"
    CROWN_DEPTH = "crown_depth"
    CAN_HEIGHT = "can_height"
    CAN_WIDTH = "can_width"
    CAN_LENGTH = "can_length"
    SHAFT_DIAMETER = "shaft_diameter"
    SHAFT_LENGTH = "shaft_length"
    MOTOR_SPEED = "motor_speed"
    MOTOR_RESISTANCE = "motor_resistance"
    MASS = "mass"
