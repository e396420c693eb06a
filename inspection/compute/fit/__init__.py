"""
Will it fit: gears, pinions, tyres and motors against a car, check by check.

Parts and cars are arrays: many parts against one car, or one gear against many
cars, a row each.  What is not known is NaN, and a check on it is not measured,
never held.
"""

from inspection.compute.fit.checks import (
    DECIMALS,
    Bored,
    Check,
    CheckColumn,
    CheckRow,
    CheckState,
    CheckTable,
    CoarseBore,
    KindsOfGear,
    NoSuchRowError,
    ToMeasure,
    TwoPitches,
)
from inspection.compute.fit.drive import (
    BAR_GAP_MM,
    DRIVEN_BY,
    LEAST_BACKLASH_MM,
    MOST_BACKLASH_MODULES,
    Drive,
)
from inspection.compute.fit.envelopes import (
    MOUNTING_SIZES,
    Envelope,
    EnvelopeShapeError,
    Limits,
    Mounting,
    NoLayoutError,
)
from inspection.compute.fit.gear_checks import (
    gear_mounting,
)
from inspection.compute.fit.gears import (
    GearFit,
    RowsDisagreeError,
    gear_fit,
    mean_tyre_mm,
    pinion_fit,
)
from inspection.compute.fit.ground import (
    GearGround,
    gear_ground,
)
from inspection.compute.fit.missing import (
    Asking,
    Lacking,
    asking_order,
    lacking,
)
from inspection.compute.fit.needs import (
    OF_THE_CAR,
    Need,
    NeedKind,
    Unlock,
    needs_of,
)
from inspection.compute.fit.rooms import (
    IN_ORDER,
    MOST_ROOM_MM,
    OPEN_ENDED,
)
from inspection.compute.fit.shaft_checks import (
    motor_mounting,
)
from inspection.compute.fit.sizes_that_fit import (
    LargestGear,
    NotMeasuredError,
    best_first,
    largest_gear,
    smallest_tyre,
    standings,
)
from inspection.compute.fit.tyres_and_motors import (
    MotorFit,
    TyreFit,
    motor_fit,
    tyre_fit,
    tyre_mounting,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "DECIMALS",
    "NoSuchRowError",
    "Check",
    "CheckState",
    "Bored",
    "ToMeasure",
    "KindsOfGear",
    "CoarseBore",
    "TwoPitches",
    "CheckColumn",
    "CheckRow",
    "CheckTable",
    "RowsDisagreeError",
    "GearFit",
    "gear_fit",
    "pinion_fit",
    "mean_tyre_mm",
    "gear_mounting",
    "motor_mounting",
    "TyreFit",
    "MotorFit",
    "tyre_fit",
    "tyre_mounting",
    "motor_fit",
    "standings",
    "best_first",
    "BAR_GAP_MM",
    "DRIVEN_BY",
    "LEAST_BACKLASH_MM",
    "MOST_BACKLASH_MODULES",
    "Drive",
    "NoLayoutError",
    "EnvelopeShapeError",
    "MOUNTING_SIZES",
    "Mounting",
    "Limits",
    "Envelope",
    "GearGround",
    "gear_ground",
    "NotMeasuredError",
    "LargestGear",
    "largest_gear",
    "smallest_tyre",
    "OPEN_ENDED",
    "MOST_ROOM_MM",
    "IN_ORDER",
    "Lacking",
    "lacking",
    "Asking",
    "asking_order",
    "OF_THE_CAR",
    "NeedKind",
    "Need",
    "Unlock",
    "needs_of",
]
