"""Registry rows: how the car stands, and what clears the track by how much."""

from inspection.compute.quantity import Kind, Quantity
from inventory.compute.instruments import Instrument
from inventory.compute.units import Unit

REAR_CONTACTS = (
    "tyre_diameter_rear_left",
    "tyre_diameter_rear_right",
    "axle_height_rear_left",
    "axle_height_rear_right",
    "axle_station_span_rear",
    "track_rear",
)
FRONT_WHEELS = (
    "tyre_diameter_front_left",
    "tyre_diameter_front_right",
    "axle_height_front_left",
    "axle_height_front_right",
    "axle_station_span_front",
    "track_front",
    "wheelbase_left",
    "wheelbase_right",
)
GUIDE = ("guide_lead", "guide_flange_height")

#: What the stance needs; what carries the front decides which of the two.
ON_WHEELS = (
    "front_carrier",
    *REAR_CONTACTS,
    *FRONT_WHEELS,
    "centre_of_gravity_x",
)
ON_GUIDE = ("front_carrier", *REAR_CONTACTS, *GUIDE, "centre_of_gravity_x")
#: The first corner stands for the whole outline: given, or made by default.
OUTLINE = ("outline_1_x", "outline_1_y")
CAN = (
    "can_rear_x",
    "can_front_x",
    "can_half_width",
    "motor_lift_rear",
    "motor_lift_front",
)

_SLIP = (Instrument.SLIP_GAUGE, Instrument.FEELER)

STANDING = (
    Quantity(
        key="clearance_rear",
        label="Chassis clearance, rear",
        unit=Unit.MILLIMETRE,
        low=0.2,
        high=5,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, "datum_half_width_rear", *OUTLINE),
        needs_on_guide=(
            *ON_GUIDE,
            "datum_half_width_rear",
            "wheelbase_left",
            "wheelbase_right",
            *OUTLINE,
        ),
        how="Slide the slip under the chassis at the rear axle and behind it, "
        "the car standing on its own weight.",
        picture="clearance_chassis",
    ),
    Quantity(
        key="clearance_front",
        label="Chassis clearance, front",
        unit=Unit.MILLIMETRE,
        low=0.2,
        high=6,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, "datum_half_width_front", *OUTLINE),
        needs_on_guide=(
            *ON_GUIDE,
            "datum_half_width_front",
            "wheelbase_left",
            "wheelbase_right",
            *OUTLINE,
        ),
        how="Slide the slip under the chassis at the front axle and ahead of it, "
        "the car standing on its own weight.",
        picture="clearance_chassis",
    ),
    Quantity(
        key="clearance_least",
        label="Least clearance of the underside",
        unit=Unit.MILLIMETRE,
        low=0,
        high=5,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, *OUTLINE),
        needs_on_guide=(*ON_GUIDE, *OUTLINE),
        how="Slide the slip under the whole underside, from the tail to the guide; "
        "the lowest place counts.",
        picture="clearance_chassis",
    ),
    Quantity(
        key="clearance_gear",
        label="Gear to track",
        unit=Unit.MILLIMETRE,
        low=0,
        high=5,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, "gear_position_y", "gear_diameter"),
        needs_on_guide=(*ON_GUIDE, "gear_position_y", "gear_diameter"),
        how="Slide the slip under the gear's lowest tooth; turn the gear so that a "
        "tooth points down.",
        picture="clearance_gear",
    ),
    Quantity(
        key="clearance_motor",
        label="Motor to track",
        unit=Unit.MILLIMETRE,
        low=0,
        high=6,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, *CAN),
        needs_on_guide=(*ON_GUIDE, *CAN),
        how="Slide the slip under the can, front and rear, left and right; the "
        "lowest place counts.",
        picture="clearance_motor",
    ),
    Quantity(
        key="clearance_magnet",
        label="Magnet to track",
        unit=Unit.MILLIMETRE,
        low=0,
        high=6,
        kind=Kind.MEASURED,
        gauges=_SLIP,
        repeatability=0.02,
        how="Slide a brass slip under the magnet; a steel one is pulled.",
        picture="clearance_magnet",
    ),
    Quantity(
        key="clearance_body",
        label="Body edge to track",
        unit=Unit.MILLIMETRE,
        low=0.3,
        high=12,
        kind=Kind.MEASURED,
        gauges=(Instrument.GO_PLATE, Instrument.SLIP_GAUGE),
        repeatability=0.1,
        how="Slide the plate under the body's lowest edge without lifting it.",
        picture="clearance_body",
    ),
    Quantity(
        key="ride_height_rear",
        label="Ride height, rear",
        unit=Unit.MILLIMETRE,
        low=0.2,
        high=6,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, "datum_half_width_rear"),
        needs_on_guide=(*ON_GUIDE, "datum_half_width_rear"),
        how="Slide the slip under the flat of the chassis just under the rear axle, "
        "left and right; the lower side counts.",
        picture="ride_height",
    ),
    Quantity(
        key="ride_height_front",
        label="Ride height, front",
        unit=Unit.MILLIMETRE,
        low=0.2,
        high=6,
        kind=Kind.TAKEN_OR_DERIVED,
        gauges=_SLIP,
        repeatability=0.02,
        needs_on_wheels=(*ON_WHEELS, "datum_half_width_front"),
        needs_on_guide=(
            *ON_GUIDE,
            "datum_half_width_front",
            "wheelbase_left",
            "wheelbase_right",
        ),
        how="Slide the slip under the flat of the chassis just under the front "
        "axle, left and right; the lower side counts.",
        picture="ride_height",
    ),
    Quantity(
        key="twist",
        label="Wheel off the block",
        unit=Unit.MILLIMETRE,
        low=-1.5,
        high=1.5,
        kind=Kind.DERIVED,
        gauges=(Instrument.FEELER,),
        repeatability=0.02,
        needs_on_wheels=(*REAR_CONTACTS, *FRONT_WHEELS),
        needs_on_guide=None,
        how="From the four wheels: how far the front right tyre is above the plane "
        "of the other three, below it when negative.",
        picture="twist",
    ),
    Quantity(
        key="rake",
        label="Rake, nose down positive",
        unit=Unit.DEGREE,
        low=-3,
        high=3,
        kind=Kind.DERIVED,
        needs_on_wheels=ON_WHEELS,
        needs_on_guide=ON_GUIDE,
        how="From the way the car stands: the slope of the underside from tail to "
        "nose.",
        picture="rake",
    ),
    Quantity(
        key="tilt",
        label="Tilt, left side high positive",
        unit=Unit.DEGREE,
        low=-3,
        high=3,
        kind=Kind.DERIVED,
        needs_on_wheels=ON_WHEELS,
        needs_on_guide=ON_GUIDE,
        how="From the way the car stands: the slope of the underside from side to "
        "side.",
        picture="tilt",
    ),
)
