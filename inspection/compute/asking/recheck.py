"""
What must be taken again when a car comes back to the block.

A reading carries over unless it is an input of a rule that was not admitted,
or of a part, position or axle that was changed or adjusted since.  To a sheet after
the race nothing carries.
"""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from functools import cache
from types import MappingProxyType

from inspection.compute.night import PartPosition
from inspection.compute.quantities import COLUMNS, QUANTITIES, FrontCarrier
from inspection.compute.stance import inputs_of, quantities_reading


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


# How the names of the columns begin that a change moves by itself.
_TYRES = ("tyre_sink", "tyre_hardness", "out_of_round", "taper", "run_out", "rim_")
_MARKS: Mapping[Area, tuple[str, ...]] = MappingProxyType(
    {
        Area.REAR_AXLE: ("axle_", "width_rear", "wheelbase", "gear_position"),
        Area.FRONT_AXLE: ("axle_", "width_front", "wheelbase", "guide_"),
        Area.REAR_TYRES: (
            "tyre_diameter_rear",
            "tyre_width_rear",
            "tyres_treated",
            "width_rear",
            *_TYRES,
        ),
        Area.FRONT_TYRES: (
            "tyre_diameter_front",
            "tyre_width_front",
            "tyres_treated",
            "width_front",
            *_TYRES,
        ),
        Area.GEARING: ("gear_", "teeth_"),
        Area.MOTOR: ("can_", "motor_", "shaft_"),
        Area.BODY: ("body_", "weight_", "driver_", "lights_", "clearance_body"),
        Area.CHASSIS: (
            "magnet",
            "clearance_magnet",
            "weight_car",
            "centre_of_gravity_",
            "chassis_",
            "datum_",
            "outline_",
            "guide_",
            "motor_lift_",
            "can_rear_x",
            "can_front_x",
            "can_middle_y",
        ),
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
        PartPosition.GUIDE: Area.FRONT_AXLE,
    }
)


@cache
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
    own = frozenset(column for column in COLUMNS if column.startswith(marks))
    follows = quantities_reading(own)
    moved = set(own)
    for key, row in QUANTITIES.items():
        # The clearance of a magnet has no formula, and follows the car's stance.
        if key in follows or (row.stands and "rake" in follows):
            moved.update(row.columns)
    return frozenset(moved)


def columns_to_retake(
    refused_keys: Iterable[str],
    *,
    areas: Iterable[Area],
    carrier: FrontCarrier,
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

    Returns
    -------
    frozenset of str
        Columns of the registry.

    Examples
    --------
    >>> wheels = FrontCarrier.FRONT_WHEELS
    >>> sorted(columns_to_retake(["gear_ratio"], areas=[], carrier=wheels))
    ['gear_ratio', 'teeth_gear', 'teeth_pinion']
    """
    again: set[str] = set()
    for key in refused_keys:
        again |= inputs_of(key, carrier)
    for area in areas:
        again |= columns_of_area(area)
    return frozenset(again)
