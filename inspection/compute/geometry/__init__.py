"""
Axles, contacts and the plane between them: the geometry of a car that stands.

Plain arrays in, arrays out; no registry, no field of cars.  Beside it the tracing
of a value back to what it was worked out from, for its uncertainty.  Millimetres
and degrees in the chassis frame: x forward from the rear axle, y to the left, z up.
"""

from inspection.compute.geometry.axles import (
    axle_drift_mm_per_metre,
    axle_level_mm,
    axle_square_deg,
    centre_of_gravity_mm,
    guide_contact_mm,
    height_at_mm,
    motor_axle_offset_mm,
    wheel_contacts_mm,
)
from inspection.compute.geometry.contacts import (
    Stance,
    clearance_mm,
    rake_deg,
    rest,
    rest_as_before,
    tilt_deg,
    twist_mm,
)
from inspection.compute.geometry.other_feet import (
    rest_on_others,
)
from inspection.compute.geometry.slopes import (
    Formula,
    Traced,
    apart,
    choose,
    derive,
    side_by_side,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "height_at_mm",
    "wheel_contacts_mm",
    "guide_contact_mm",
    "Stance",
    "rest",
    "rest_as_before",
    "rest_on_others",
    "clearance_mm",
    "centre_of_gravity_mm",
    "rake_deg",
    "tilt_deg",
    "twist_mm",
    "axle_level_mm",
    "axle_square_deg",
    "axle_drift_mm_per_metre",
    "motor_axle_offset_mm",
    "Formula",
    "Traced",
    "derive",
    "choose",
    "side_by_side",
    "apart",
]
