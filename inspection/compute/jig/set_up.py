"""
The jig: what to set under a chassis before soldering, what to check after.

Millimetres and degrees.  The car stands level in the jig on tyres of a known
size; a spacer under the flat of the chassis brings the motor's shaft into line
with the axle.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from inspection.compute.jig.shims import (
    NotAShimError,
    NotAStackError,
    ShimStack,
    choose_shims,
)
from inspection.compute.jig.soldering import (
    BuildCheck,
    BuildRow,
    NotAJigSizeError,
    SolderedChassis,
    after_soldering,
    check_finite,
    check_sizes,
)

__all__ = (
    "BuildCheck",
    "BuildRow",
    "GearLimit",
    "JigSetUp",
    "JigSheet",
    "LevelGear",
    "NotAJigSizeError",
    "NotAShimError",
    "NotAStackError",
    "ShimStack",
    "SolderedChassis",
    "after_soldering",
    "choose_shims",
    "jig_sheet",
    "largest_level_gear",
    "level_gear_clearance_mm",
    "spacer_mm",
)

#: Left over between the gear and the bar of the chassis; common practice.
BAR_GAP_MM: Final = 0.3


class GearLimit(StrEnum):
    """What keeps a gear from being larger."""

    GROUND = "ground"
    CHASSIS_BAR = "chassis bar"


@dataclass(frozen=True, kw_only=True)
class JigSetUp:
    """What the builder has and wants; ``None`` is not known."""

    jig_tyre_diameter_mm: float
    race_tyre_diameter_mm: float
    can_height_mm: float
    motor_lift_mm: float = 0.0
    axle_offset_mm: float = 0.0
    least_gear_clearance_mm: float | None = None
    axle_to_bar_mm: float | None = None
    bar_gap_mm: float = BAR_GAP_MM
    shims_mm: tuple[float, ...] = ()
    stacks: int = 1


@dataclass(frozen=True, kw_only=True)
class LevelGear:
    """The largest gear under a level axle, and what keeps it from being larger."""

    outside_diameter_mm: float
    governs: GearLimit


@dataclass(frozen=True, kw_only=True)
class JigSheet:
    """
    What to set up, and what it gives on the race tyres, standing level.

    ``least_tyre_mm`` is what the jig's tyres have to be at least, where they are too
    small for any spacer.
    """

    spacer_mm: float
    stack: ShimStack | None
    axle_height_mm: float
    shaft_height_mm: float
    rear_clearance_mm: float
    largest_gear: LevelGear | None
    least_tyre_mm: float | None = None


def spacer_mm(
    *,
    jig_tyre_diameter_mm: float,
    can_height_mm: float,
    motor_lift_mm: float = 0.0,
    axle_offset_mm: float = 0.0,
) -> float:
    """
    Say how much goes under the chassis in the jig.

    Parameters
    ----------
    jig_tyre_diameter_mm : float
        Tyres that the jig's axle stands on, mm.
    can_height_mm : float
        Vertical size of the motor as mounted, mm; its shaft at half of it.
    motor_lift_mm : float, optional
        Underside of the can over the flat of the chassis, mm.
    axle_offset_mm : float, optional
        Axle wanted over the motor shaft, mm.

    Returns
    -------
    float
        Spacer, mm; negative when the jig tyres are too small.

    Raises
    ------
    NotAJigSizeError
        If a diameter or the can is not positive, or a figure not finite.

    Examples
    --------
    >>> round(spacer_mm(jig_tyre_diameter_mm=17.6, can_height_mm=16.6), 6)
    0.5
    """
    check_sizes(
        ("Jig tyre", jig_tyre_diameter_mm),
        ("Can height", can_height_mm),
    )
    check_finite(motor_lift_mm, axle_offset_mm)
    axle_height = motor_lift_mm + can_height_mm / 2.0 + axle_offset_mm
    return jig_tyre_diameter_mm / 2.0 - axle_height


def jig_sheet(setup: JigSetUp) -> JigSheet:
    """
    Work out a jig sheet.

    The car is taken to stand level on race tyres of one size; how it stands on
    tyres as they are is the car's own page.

    Parameters
    ----------
    setup : JigSetUp
        Sizes, mm.

    Returns
    -------
    JigSheet
        Spacer, shims to stack, clearances and the largest gear, mm.

    Raises
    ------
    NotAJigSizeError
        If a size is not positive.
    NotAShimError
        If a shim is not positive.

    Examples
    --------
    >>> sheet = jig_sheet(
    ...     JigSetUp(
    ...         jig_tyre_diameter_mm=17.6,
    ...         race_tyre_diameter_mm=19.5,
    ...         can_height_mm=16.6,
    ...     )
    ... )
    >>> round(sheet.rear_clearance_mm, 6)
    1.45
    """
    check_sizes(("Race tyre", setup.race_tyre_diameter_mm))
    spacer = spacer_mm(
        jig_tyre_diameter_mm=setup.jig_tyre_diameter_mm,
        can_height_mm=setup.can_height_mm,
        motor_lift_mm=setup.motor_lift_mm,
        axle_offset_mm=setup.axle_offset_mm,
    )
    stack = None
    if spacer >= 0.0 and setup.shims_mm:
        stack = choose_shims(spacer, setup.shims_mm, copies=setup.stacks)
    # What is stacked counts, and under tyres too small nothing is.
    under = max(spacer, 0.0) if stack is None else stack.total_mm
    axle_height = setup.jig_tyre_diameter_mm / 2.0 - under
    return JigSheet(
        spacer_mm=spacer,
        stack=stack,
        axle_height_mm=axle_height,
        shaft_height_mm=setup.motor_lift_mm + setup.can_height_mm / 2.0,
        rear_clearance_mm=setup.race_tyre_diameter_mm / 2.0 - axle_height,
        largest_gear=largest_level_gear(setup),
        least_tyre_mm=(
            setup.jig_tyre_diameter_mm - 2.0 * spacer if spacer < 0.0 else None
        ),
    )


def level_gear_clearance_mm(
    *, tyre_diameter_mm: float, gear_diameter_mm: float
) -> float:
    """
    Say how far a gear stays off the ground under a level axle.

    Parameters
    ----------
    tyre_diameter_mm, gear_diameter_mm : float
        Outside diameters, mm.

    Returns
    -------
    float
        Clearance, mm.

    Raises
    ------
    NotAJigSizeError
        If a diameter is not positive.

    Examples
    --------
    >>> round(level_gear_clearance_mm(tyre_diameter_mm=19.5, gear_diameter_mm=17.6), 6)
    0.95
    """
    check_sizes(("Tyre", tyre_diameter_mm), ("Gear", gear_diameter_mm))
    return (tyre_diameter_mm - gear_diameter_mm) / 2.0


def largest_level_gear(setup: JigSetUp) -> LevelGear | None:
    """
    Find the largest gear that a level car can take.

    Parameters
    ----------
    setup : JigSetUp
        Sizes, mm; without a least gap only the bar counts, without a distance to the
        bar only the ground.

    Returns
    -------
    LevelGear or None
        Outside diameter, mm, and which of the two keeps it so; nothing where neither
        was said.

    Examples
    --------
    >>> largest_level_gear(
    ...     JigSetUp(
    ...         jig_tyre_diameter_mm=17.6,
    ...         race_tyre_diameter_mm=19.5,
    ...         can_height_mm=16.6,
    ...         least_gear_clearance_mm=0.8,
    ...     )
    ... )
    LevelGear(outside_diameter_mm=17.9, governs=<GearLimit.GROUND: 'ground'>)
    """
    limits = []
    if setup.least_gear_clearance_mm is not None:
        ground = setup.race_tyre_diameter_mm - 2.0 * setup.least_gear_clearance_mm
        limits.append(LevelGear(outside_diameter_mm=ground, governs=GearLimit.GROUND))
    if setup.axle_to_bar_mm is not None:
        bar = 2.0 * (setup.axle_to_bar_mm - setup.bar_gap_mm)
        limits.append(LevelGear(outside_diameter_mm=bar, governs=GearLimit.CHASSIS_BAR))
    return min(limits, key=lambda one: one.outside_diameter_mm, default=None)
