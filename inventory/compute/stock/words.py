"""The words of the parts inventory: kinds, states and moves of a part."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType


class PartKind(StrEnum):
    """What a part is."""

    TYRE = "tyre"
    GEAR = "gear"
    MOTOR = "motor"
    GUIDE = "guide"


class PartState(StrEnum):
    """Where a part stands."""

    IN_STOCK = "in stock"
    RESERVED = "reserved"
    WITH_MEMBER = "with a member"
    ON_CAR = "on a car"
    RETIRED = "retired"


class Move(StrEnum):
    """A row of a part's history: what happened to it."""

    RECEIVE = "receive"
    RESERVE = "reserve"
    RELEASE = "release"
    HAND_OUT = "hand out"
    FIT = "fit"
    SWAP = "swap"
    TAKE_OFF = "take off"
    TAKE_BACK = "take back"
    RETIRE = "retire"
    RESTORE = "restore"
    SPLIT = "split"


#: From which states a move may start, and the state it ends in.
MOVES: Mapping[Move, tuple[frozenset[PartState], PartState]] = MappingProxyType(
    {
        Move.RECEIVE: (frozenset[PartState](), PartState.IN_STOCK),
        Move.RESERVE: (frozenset({PartState.IN_STOCK}), PartState.RESERVED),
        Move.RELEASE: (frozenset({PartState.RESERVED}), PartState.IN_STOCK),
        Move.HAND_OUT: (
            frozenset({PartState.IN_STOCK, PartState.RESERVED}),
            PartState.WITH_MEMBER,
        ),
        Move.FIT: (
            frozenset({PartState.IN_STOCK, PartState.RESERVED, PartState.WITH_MEMBER}),
            PartState.ON_CAR,
        ),
        Move.SWAP: (frozenset({PartState.ON_CAR}), PartState.ON_CAR),
        Move.TAKE_OFF: (frozenset({PartState.ON_CAR}), PartState.WITH_MEMBER),
        Move.TAKE_BACK: (
            frozenset({PartState.WITH_MEMBER, PartState.RESERVED}),
            PartState.IN_STOCK,
        ),
        Move.RETIRE: (
            frozenset({PartState.IN_STOCK, PartState.RESERVED}),
            PartState.RETIRED,
        ),
        Move.RESTORE: (frozenset({PartState.RETIRED}), PartState.IN_STOCK),
        Move.SPLIT: (frozenset({PartState.IN_STOCK}), PartState.IN_STOCK),
    }
)


class Counted(StrEnum):
    """What a stocktake says of a part: in its drawer, gone, or where none should be."""

    FOUND = "found"
    MISSING = "missing"
    SURPLUS = "surplus"


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
    GUIDE_DEPTH = "guide_depth"
    GUIDE_WIDTH = "guide_width"
    MASS = "mass"
