"""
Will it fit: gears, pinions, tyres and motors against a car, check by check.

This is the door; the checks are in the modules it names.  Parts and cars are
arrays: many parts against one car, or one gear against many cars, a row each.
What is not known is NaN, and a check on it is not measured, never held.
"""

from inspection.compute.envelope import (
    MOUNTING_SIZES,
    Envelope,
    EnvelopeShapeError,
    Mounting,
    NoLayoutError,
)
from inspection.compute.fit_rows import (
    Check,
    CheckRow,
    CheckState,
    CheckTable,
    NoSuchRowError,
)
from inspection.compute.gear_fit import GearFit, RowsDisagreeError, gear_fit, pinion_fit
from inspection.compute.other_fits import MotorFit, TyreFit, motor_fit, tyre_fit
from inspection.compute.part_tables import (
    Gears,
    Motors,
    Pairs,
    Pinions,
    Stock,
    UnevenTableError,
)
from inspection.compute.sizes_that_fit import (
    LargestGear,
    NotMeasuredError,
    SmallestTyre,
    largest_gear,
    smallest_tyre,
)
from inspection.compute.taking_cars import NotOnePartError, fits_on

__all__ = (
    "MOUNTING_SIZES",
    "Check",
    "CheckRow",
    "CheckState",
    "CheckTable",
    "Envelope",
    "EnvelopeShapeError",
    "GearFit",
    "Gears",
    "LargestGear",
    "MotorFit",
    "Motors",
    "Mounting",
    "NoLayoutError",
    "NoSuchRowError",
    "NotMeasuredError",
    "NotOnePartError",
    "Pairs",
    "Pinions",
    "RowsDisagreeError",
    "SmallestTyre",
    "Stock",
    "TyreFit",
    "UnevenTableError",
    "fits_on",
    "gear_fit",
    "largest_gear",
    "motor_fit",
    "pinion_fit",
    "smallest_tyre",
    "tyre_fit",
)
