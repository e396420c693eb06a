"""
What must be taken again when a car comes back to the block.

A reading carries over unless it is an input of a rule that was not admitted,
or of a part, position or axle that was changed or adjusted since.  Nothing
with a tyre in it carries to a sheet after the race: tyres wear.
"""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from types import MappingProxyType

from inspection.compute.entries import PartPosition
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    column_owner,
    columns_of,
)


class Area(StrEnum):
    """What may have been changed or adjusted on a car."""

    REAR_AXLE = "rear axle"
    FRONT_AXLE = "front axle"
    REAR_TYRES = "rear tyres"
    FRONT_TYRES = "front tyres"
    GEARING = "gear or pinion"
    MOTOR = "motor"
    BODY = "body"
    CHASSIS = "chassis, magnet or weight"


_MARKS: Mapping[Area, tuple[str, ...]] = MappingProxyType(
    {
        Area.REAR_AXLE: ("axle_", "width_rear", "wheelbase", "gear_position"),
        Area.FRONT_AXLE: ("axle_", "width_front", "wheelbase", "guide_"),
        Area.REAR_TYRES: ("tyre_diameter_rear", "tyre_width_rear", "width_rear"),
        Area.FRONT_TYRES: ("tyre_diameter_front", "tyre_width_front", "width_front"),
        Area.GEARING: ("gear_", "teeth_"),
        Area.MOTOR: ("can_", "motor_", "shaft_"),
        Area.BODY: ("body_", "weight_", "driver_", "lights_"),
        Area.CHASSIS: ("magnet", "weight_car", "chassis_", "outline_"),
    }
)
#: Anything that stands on the tyres: a slip under the car, the car on the scale.
_STANDING = ("clearance_", "ride_height_", "front_wheels_touch")
_MOVED_BY_TYRES = frozenset(
    {
        Area.REAR_AXLE,
        Area.FRONT_AXLE,
        Area.REAR_TYRES,
        Area.FRONT_TYRES,
        Area.CHASSIS,
    }
)

#: What a part in its place belongs to.
AREA_OF_POSITION: Mapping[PartPosition, Area] = MappingProxyType(
    {
        PartPosition.REAR_LEFT: Area.REAR_TYRES,
        PartPosition.REAR_RIGHT: Area.REAR_TYRES,
        PartPosition.FRONT_LEFT: Area.FRONT_TYRES,
        PartPosition.FRONT_RIGHT: Area.FRONT_TYRES,
        PartPosition.GEAR: Area.GEARING,
        PartPosition.PINION: Area.GEARING,
        PartPosition.MOTOR: Area.MOTOR,
    }
)


def columns_of_area(area: Area) -> frozenset[str]:
    """
    Columns whose readings a change in an area may have moved.

    Parameters
    ----------
    area : Area
        What was changed.

    Returns
    -------
    frozenset of str
        Columns of the registry.
    """
    marks = _MARKS[area]
    if area in _MOVED_BY_TYRES:
        marks = (*marks, *_STANDING)
    if area is Area.GEARING:
        marks = (*marks, "clearance_gear")
    if area is Area.MOTOR:
        marks = (*marks, "clearance_motor")
    if area is Area.BODY:
        marks = (*marks, "clearance_body", "tyre_outside_body")
    return frozenset(column for column in COLUMNS if column.startswith(marks))


def inputs_of(key: str, carrier: FrontCarrier) -> frozenset[str]:
    """
    Columns that a rule on a quantity may rest on, its own among them.

    Parameters
    ----------
    key : str
        The rule's quantity.
    carrier : FrontCarrier
        What carries the front.

    Returns
    -------
    frozenset of str
        Columns of the registry.
    """
    found = set(columns_of(key))
    waiting = list(found)
    while waiting:
        owner, _ = column_owner(waiting.pop())
        new = set(QUANTITIES[owner].needs_of(carrier) or ()) - found
        found |= new
        waiting.extend(new)
    return frozenset(found)


def columns_to_retake(
    refused_keys: Iterable[str],
    *,
    areas: Iterable[Area],
    carrier: FrontCarrier,
    after_race: bool,
) -> frozenset[str]:
    """
    Columns whose readings do not carry over to the next sheet.

    Parameters
    ----------
    refused_keys : iterable of str
        Quantities of the rules that were not admitted.
    areas : iterable of Area
        What was changed or adjusted since.
    carrier : FrontCarrier
        What carries the front.
    after_race : bool
        Whether the next sheet is the one after the race.

    Returns
    -------
    frozenset of str
        Columns of the registry.
    """
    again: set[str] = set()
    for key in refused_keys:
        again |= inputs_of(key, carrier)
    for area in areas:
        again |= columns_of_area(area)
    if after_race:
        again |= columns_of_area(Area.REAR_TYRES) | columns_of_area(Area.FRONT_TYRES)
    return frozenset(again)
