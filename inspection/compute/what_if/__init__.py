"""
A car with something changed: other parts, worn tyres, a moved clearance.

Copies of one car with some columns replaced, judged against the mandatory rules at
the limits themselves, and what follows: legal tyre sizes, how far tyres may wear.
"""

from inspection.compute.what_if.changed_cars import (
    TYRES,
    Change,
    Changes,
    Masses,
    columns_of_change,
    with_columns,
    with_parts,
    with_tyres,
)
from inspection.compute.what_if.legality import (
    GEAR_ON_TRACK,
    OFF_THE_TRACK,
    NotOneCarError,
    Present,
    TyresNotMeasuredError,
    about,
    mandatory_margins,
    nearest_run,
    off_the_track,
    present,
    rear_tyres,
    rests_on,
    room_left,
)
from inspection.compute.what_if.moved_clearances import (
    SOMEWHERE,
    derived_least,
)
from inspection.compute.what_if.part_tables import (
    CROWN,
    SPUR,
    Doubt,
    Gears,
    Motors,
    Pairs,
    PartTable,
    Pinions,
    Stock,
    UnevenTableError,
    stacked,
    unknown,
)
from inspection.compute.what_if.tyre_sizes import (
    TyreSizes,
    legal_tyre_sizes,
)
from inspection.compute.what_if.wear_limits import (
    MOST_WEAR_MM,
    WearLimit,
    wear_limit,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "TYRES",
    "Change",
    "Changes",
    "columns_of_change",
    "Masses",
    "with_parts",
    "with_tyres",
    "with_columns",
    "SOMEWHERE",
    "derived_least",
    "OFF_THE_TRACK",
    "GEAR_ON_TRACK",
    "NotOneCarError",
    "TyresNotMeasuredError",
    "rear_tyres",
    "mandatory_margins",
    "Present",
    "present",
    "about",
    "room_left",
    "rests_on",
    "nearest_run",
    "off_the_track",
    "TyreSizes",
    "legal_tyre_sizes",
    "MOST_WEAR_MM",
    "WearLimit",
    "wear_limit",
    "SPUR",
    "CROWN",
    "UnevenTableError",
    "unknown",
    "PartTable",
    "stacked",
    "Doubt",
    "Gears",
    "Pinions",
    "Pairs",
    "Motors",
    "Stock",
]
