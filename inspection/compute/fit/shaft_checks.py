"""
Checks of a motor's place and shaft: the can's room, the pinion, a crown's seat.

Rows as in a drive; whatever the rulebook says.
"""

import numpy as np

from inspection.compute.fit.checks import (
    Bored,
    Check,
    CheckColumn,
)
from inspection.compute.fit.crowns import CrownMesh, covered_share
from inspection.compute.fit.drive import (
    ALWAYS,
    LEAST_CROWN_SHARE,
    NO_LIMIT,
    OFFSET_LIMIT_MM,
    SHAFT_END_GAP_MM,
    Drive,
    Known,
    bore_column,
    known_with,
    single,
)
from inspection.compute.fit.envelopes import Envelope
from inventory.compute.arrays import Floats


def motor_mounting(drive: Drive) -> tuple[CheckColumn, ...]:
    """
    Check whether motors can be mounted, whatever the rulebook says.

    Parameters
    ----------
    drive : Drive
        Rows of motors.

    Returns
    -------
    tuple of CheckColumn
        Room for the can, pinion on the shaft, lift, and the crown's own checks.

    Examples
    --------
    >>> from inspection.compute.fit.envelopes import Envelope, Mounting
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> from inspection.compute.what_if import Motors
    >>> car = Field.exact({"layout": [1.0]})
    >>> envelope = Envelope(
    ...     car=car,
    ...     rulebook=Rules.within({}, columns=car.columns),
    ...     mounting=Mounting(bay_height_mm=np.array([18.0])),
    ... )
    >>> drive = Drive(
    ...     gear=envelope.gear,
    ...     pinion=envelope.pinion,
    ...     motor=Motors(can_height_mm=np.array([16.6, 18.4])),
    ...     envelope=envelope,
    ... )
    >>> height = motor_mounting(drive)[0]
    >>> height.check.name, height.value, height.upper
    ('CAN_HEIGHT', array([16.6, 18.4]), array([18.]))
    """
    mounting, motor = drive.envelope.mounting, drive.motor
    bays = (
        (Check.CAN_HEIGHT, motor.can_height_mm, mounting.bay_height_mm, "height"),
        (Check.CAN_WIDTH, motor.can_width_mm, mounting.bay_width_mm, "width"),
        (Check.CAN_LENGTH, motor.can_length_mm, mounting.bay_length_mm, "length"),
    )
    return (
        *(
            CheckColumn(
                check=check,
                value=known_with(size, room),
                lower=NO_LIMIT,
                upper=room,
                applies=ALWAYS,
                checked=ALWAYS,
                u=motor.u_of(f"can_{name}_mm"),
            )
            for check, size, room, name in bays
        ),
        *pinion_on_shaft(drive),
        _lift(drive),
        *crown_mesh(drive),
    )


def pinion_on_shaft(drive: Drive) -> tuple[CheckColumn, CheckColumn]:
    """
    Check a pinion's bore and length on a motor's shaft.

    Parameters
    ----------
    drive : Drive
        Rows of pinions or motors.

    Returns
    -------
    tuple of CheckColumn
        Bore and length.
    """
    length, shaft = drive.pinion.length_mm, drive.motor.shaft_length_mm
    across = Known(
        value=drive.motor.shaft_diameter_mm, u=drive.motor.u_of("shaft_diameter_mm")
    )
    return (
        bore_column(drive.pinion, across, bored=Bored.PINION),
        CheckColumn(
            check=Check.PINION_LENGTH,
            value=known_with(length, shaft),
            lower=NO_LIMIT,
            upper=shaft,
            applies=ALWAYS,
            checked=ALWAYS,
        ),
    )


def crown_mesh(drive: Drive) -> tuple[CheckColumn, ...]:
    """
    Check where a crown sits and how it meets its pinion, on in-line cars.

    Parameters
    ----------
    drive : Drive
        Rows of gears, pinions or motors.

    Returns
    -------
    tuple of CheckColumn
        Seat, face, shaft's end and motor-axle offset.
    """
    envelope, gear, pinion = drive.envelope, drive.gear, drive.pinion
    mounting, in_line = envelope.mounting, envelope.in_line
    over = _axle_over_shaft_mm(drive)
    limits = envelope.limits("motor_axle_offset")
    radius = pinion.module_mm * pinion.teeth / 2.0
    seat = radius + gear.crown_depth_mm + gear.hub_width_mm + mounting.spacers_mm
    axle = envelope.column("axle_diameter")
    return (
        CheckColumn(
            check=Check.CROWN_SEAT,
            value=mounting.shaft_to_bearing_mm - seat,
            lower=single(0.0),
            upper=NO_LIMIT,
            applies=in_line,
            checked=ALWAYS,
        ),
        CheckColumn(
            check=Check.CROWN_FACE,
            value=_crown_share(drive, over),
            lower=single(LEAST_CROWN_SHARE),
            upper=NO_LIMIT,
            applies=in_line,
            checked=ALWAYS,
            unit="",
        ),
        CheckColumn(
            check=Check.SHAFT_END,
            value=mounting.shaft_end_mm - axle / 2.0,
            lower=single(SHAFT_END_GAP_MM),
            upper=NO_LIMIT,
            applies=in_line,
            checked=ALWAYS,
        ),
        CheckColumn(
            check=Check.MOTOR_AXLE_OFFSET,
            value=over - gear.design_offset_mm,
            lower=np.where(limits.given, limits.lower, -OFFSET_LIMIT_MM),
            upper=np.where(limits.given, limits.upper, OFFSET_LIMIT_MM),
            applies=in_line,
            checked=ALWAYS,
        ),
    )


def _crown_share(drive: Drive, over_mm: Floats) -> Floats:
    gear, pinion = drive.gear, drive.pinion
    face, length = pinion.face_width_mm, pinion.length_mm
    return covered_share(
        CrownMesh(
            outside_diameter_mm=gear.outside_diameter_mm,
            tooth_band_mm=gear.face_width_mm,
            pinion_face_mm=face,
            pinion_length_mm=np.where(np.isnan(length), face, length),
            shaft_end_mm=drive.envelope.mounting.shaft_end_mm,
            shaft_length_mm=drive.motor.shaft_length_mm,
            axle_over_shaft_mm=over_mm,
        )
    )


def _axle_height_mm(envelope: Envelope) -> Floats:
    left, right = (
        envelope.column(f"axle_height_rear_{side}") for side in ("left", "right")
    )
    return (left + right) / 2.0


def _axle_over_shaft_mm(drive: Drive) -> Floats:
    envelope = drive.envelope
    shaft = envelope.column("motor_axis_height")
    if drive.motor is not envelope.motor:
        # Another motor sits where this one did: only its shaft is higher or lower.
        shaft = shaft + drive.motor.axis_in_can_mm - envelope.motor.axis_in_can_mm
    return _axle_height_mm(envelope) - shaft


def lift_to_axle_mm(drive: Drive) -> Floats:
    """
    Say which lift of the motor brings its shaft to the axle's line.

    Parameters
    ----------
    drive : Drive
        Rows of motors.

    Returns
    -------
    (rows,) ndarray
        Underside of the can over the flat, mm; NaN not known.
    """
    line = _axle_height_mm(drive.envelope) - drive.gear.design_offset_mm
    return np.asarray(line - drive.motor.axis_in_can_mm)


def _lift(drive: Drive) -> CheckColumn:
    mounting = drive.envelope.mounting
    low, high = mounting.lift_low_mm, mounting.lift_high_mm
    return CheckColumn(
        check=Check.LIFT,
        value=known_with(known_with(lift_to_axle_mm(drive), low), high),
        lower=low,
        upper=high,
        applies=drive.envelope.in_line,
        checked=ALWAYS,
    )
