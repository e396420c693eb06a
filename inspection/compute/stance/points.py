"""The places of a car by name: where a quantity has the value that decides."""

from dataclasses import dataclass
from enum import StrEnum

from inspection.compute.geometry import Traced
from inspection.compute.quantities import OUTLINE_CORNERS
from inventory.compute.arrays import Bools


class Point(StrEnum):
    """Where on the car a quantity has the value that decides."""

    WHOLE = "whole"
    LEFT = "left"
    RIGHT = "right"
    REAR = "rear"
    FRONT = "front"
    REAR_LEFT_EDGE = "rear left edge"
    REAR_RIGHT_EDGE = "rear right edge"
    FRONT_LEFT_EDGE = "front left edge"
    FRONT_RIGHT_EDGE = "front right edge"
    GEAR = "gear"
    CAN_REAR_LEFT = "can, rear left"
    CAN_REAR_RIGHT = "can, rear right"
    CAN_FRONT_LEFT = "can, front left"
    CAN_FRONT_RIGHT = "can, front right"
    CORNER_1 = "corner 1"
    CORNER_2 = "corner 2"
    CORNER_3 = "corner 3"
    CORNER_4 = "corner 4"
    CORNER_5 = "corner 5"
    CORNER_6 = "corner 6"
    CORNER_7 = "corner 7"
    CORNER_8 = "corner 8"

    @property
    def code(self) -> int:
        """The number that stands for the point in an array."""
        return _CODES[self]


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class Place:
    """
    A quantity's value at one place.

    ``present`` is ``(cars,)``: whether the car has this place.
    """

    point: Point
    traced: Traced
    present: Bools


_CODES = {point: code for code, point in enumerate(Point)}
#: The corners of an outline, in order.
CORNERS = tuple(Point)[-OUTLINE_CORNERS:]
