"""
Checks of a gear with its pinion: kind, bore, pitch, room and mesh.

Rows as in a drive; whatever the rulebook says.
"""

import numpy as np

from inspection.compute.drive import (
    ALWAYS,
    BAR_GAP_MM,
    LEAST_BACKLASH_MM,
    LEAST_CONTACT_RATIO,
    LOW_CONTACT_RATIO,
    MODULE_PERCENT,
    MOST_BACKLASH_MODULES,
    NO_LIMIT,
    Drive,
    bore_column,
    known_with,
    single,
)
from inspection.compute.envelope import MOUNTING_SIZES
from inspection.compute.fit_rows import Bools, Check, CheckColumn, Floats
from inspection.compute.part_tables import CROWN, SPUR
from inspection.compute.shaft_checks import crown_mesh, pinion_on_shaft
from inventory.compute.gearing import centre_distance_for_backlash, mesh, spur


def gear_mounting(drive: Drive) -> tuple[CheckColumn, ...]:
    """
    Check whether gears can be mounted, whatever the rulebook says.

    Parameters
    ----------
    drive : Drive
        Rows of gears.

    Returns
    -------
    tuple of CheckColumn
        Kind, bore, pitch, crown cut, chassis bar, room, mesh and what belongs to it.
    """
    return (
        _kind(drive),
        bore_column(
            drive.gear.bore_mm,
            drive.envelope.column("axle_diameter"),
            fixing=drive.gear.fixing,
            measure="the gear's bore by pin gauge, and the axle",
        ),
        _pitch(drive),
        _crown_cut(drive),
        _chassis_bar(drive),
        _room(drive),
        *_spur_mesh(drive),
        *crown_mesh(drive),
    )


def pinion_mounting(drive: Drive) -> tuple[CheckColumn, ...]:
    """
    Check whether pinions suit the motor's shaft and the gear.

    Parameters
    ----------
    drive : Drive
        Rows of pinions.

    Returns
    -------
    tuple of CheckColumn
        Bore, length, pitch and mesh.
    """
    return (
        *pinion_on_shaft(drive),
        _pitch(drive),
        _crown_cut(drive),
        *_spur_mesh(drive),
        *crown_mesh(drive),
    )


def _kind(drive: Drive) -> CheckColumn:
    wanted = np.where(drive.envelope.in_line, CROWN, SPUR)
    return CheckColumn(
        check=Check.KIND,
        value=np.where(drive.gear.role == wanted, 1.0, 0.0),
        lower=single(1.0),
        upper=NO_LIMIT,
        applies=ALWAYS,
        checked=ALWAYS,
        unit="",
        note="An in-line car takes a crown, any other a spur",
    )


def _pitch(drive: Drive) -> CheckColumn:
    gear, pinion = drive.gear, drive.pinion
    family = (gear.family == pinion.family) & (gear.family != "")
    apart = 100.0 * abs(gear.module_mm / pinion.module_mm - 1.0)
    return CheckColumn(
        check=Check.PITCH,
        # What is declared to run together does, whatever it is called.
        value=np.where(family & np.isnan(apart), 0.0, apart),
        lower=NO_LIMIT,
        upper=np.where(family, np.inf, MODULE_PERCENT),
        applies=ALWAYS,
        checked=ALWAYS,
        unit="%",
        measure="teeth and outside diameter of gear and pinion",
        note="declared to be of one family",
    )


def _crown_cut(drive: Drive) -> CheckColumn:
    cut, teeth = drive.gear.cut_for_teeth, drive.pinion.teeth
    return CheckColumn(
        check=Check.CROWN_CUT,
        value=known_with(cut, teeth),
        lower=teeth,
        upper=teeth,
        # A crown that is not said to be cut for one pinion is taken to suit its
        # family.
        applies=drive.envelope.in_line & ~np.isnan(cut),
        checked=ALWAYS,
        unit="teeth",
        measure="the pinion's teeth",
    )


def _chassis_bar(drive: Drive) -> CheckColumn:
    bar = drive.envelope.mounting.axle_to_bar_mm
    return CheckColumn(
        check=Check.CHASSIS_BAR,
        value=bar - drive.gear.outside_diameter_mm / 2.0,
        lower=single(BAR_GAP_MM),
        upper=NO_LIMIT,
        applies=ALWAYS,
        checked=ALWAYS,
        measure=f"the gear over its teeth, and {MOUNTING_SIZES['axle_to_bar_mm']}",
    )


def _room(drive: Drive) -> CheckColumn:
    room = drive.envelope.mounting.axle_room_mm
    return CheckColumn(
        check=Check.ROOM,
        value=known_with(drive.gear.hub_width_mm, room),
        lower=NO_LIMIT,
        upper=room,
        # In line the crown's seat says the same, unless the room was measured too.
        applies=~drive.envelope.in_line | ~np.isnan(room),
        checked=ALWAYS,
        measure=f"the hub's width, and {MOUNTING_SIZES['axle_room_mm']}",
    )


def _spur_mesh(drive: Drive) -> tuple[CheckColumn, CheckColumn]:
    envelope, module = drive.envelope, drive.pinion.module_mm
    applies = ~envelope.in_line & (_pitch(drive).margin >= 0.0)
    backlash, contact = _best_mesh(drive, applies)
    slot = MOUNTING_SIZES["slot_low_mm"], MOUNTING_SIZES["slot_high_mm"]
    measure = f"{slot[0]}, {slot[1]}, and the teeth"
    checked = ~envelope.anglewinder
    note = "as if the axes were parallel; an anglewinder's crossed axes are not checked"
    return (
        CheckColumn(
            check=Check.MESH,
            value=backlash,
            lower=single(LEAST_BACKLASH_MM),
            upper=MOST_BACKLASH_MODULES * module,
            applies=applies,
            checked=checked,
            measure=measure,
            note=note,
        ),
        CheckColumn(
            check=Check.CONTACT,
            value=contact,
            lower=single(LEAST_CONTACT_RATIO),
            upper=NO_LIMIT,
            # Jammed teeth have none to speak of.
            applies=applies & ~(np.isnan(contact) & ~np.isnan(backlash)),
            checked=checked,
            unit="",
            warn_below=LOW_CONTACT_RATIO,
            measure=measure,
            note=note,
        ),
    )


def _best_mesh(drive: Drive, applies: Bools) -> tuple[Floats, Floats]:
    """Backlash and contact ratio where the slot lets the gears run best."""
    gear, pinion, slot = drive.gear, drive.pinion, drive.envelope.mounting
    if not applies.any():
        return np.full(applies.shape, np.nan), np.full(applies.shape, np.nan)
    # Modules may differ by half a percent, or be called differently in one family:
    # the teeth run as the pinion's.
    module = np.where(np.isnan(pinion.teeth), np.nan, pinion.module_mm)
    pair = (
        spur(pinion.teeth, module_mm=module),
        spur(gear.teeth, module_mm=module),
    )
    # More distance makes more backlash and less contact: the least that the slot
    # and the least backlash allow is the best.
    wanted = centre_distance_for_backlash(*pair, backlash_mm=LEAST_BACKLASH_MM)
    best = np.minimum(np.maximum(wanted, slot.slot_low_mm), slot.slot_high_mm)
    run = mesh(*pair, centre_distance_mm=best)
    return run.backlash_mm, run.contact_ratio
