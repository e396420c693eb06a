"""
Checks of a gear with its pinion: kind, bore, pitch, room and mesh.

Rows as in a drive; whatever the rulebook says.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from inspection.compute.fit.checks import (
    Bored,
    Check,
    CheckColumn,
    KindsOfGear,
    TwoPitches,
)
from inspection.compute.fit.drive import (
    ALWAYS,
    BAR_GAP_MM,
    DRIVEN_BY,
    LEAST_BACKLASH_MM,
    LEAST_CONTACT_RATIO,
    LOW_CONTACT_RATIO,
    MODULE_PERCENT,
    MOST_BACKLASH_MODULES,
    NO_LIMIT,
    Drive,
    axle_of,
    bore_column,
    known_with,
    single,
)
from inspection.compute.fit.shaft_checks import crown_mesh, pinion_on_shaft
from inspection.compute.quantities import Layout
from inspection.compute.what_if import CROWN, SPUR
from inventory.compute.arrays import Bools, Floats
from inventory.compute.gears import (
    PITCHES,
    centre_distance_for_backlash,
    mesh,
    spur,
)
from inventory.compute.stock import GearRole


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

    Examples
    --------
    >>> from inspection.compute.fit.envelopes import Envelope, Mounting
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> from inspection.compute.what_if import Gears, Motors, Pinions
    >>> car = Field.exact({"layout": [1.0]})
    >>> envelope = Envelope(
    ...     car=car,
    ...     rulebook=Rules.within({}, columns=car.columns),
    ...     mounting=Mounting(axle_to_bar_mm=np.array([9.0])),
    ... )
    >>> gears = Gears(
    ...     teeth=np.array([27.0, 34.0]), outside_diameter_mm=np.array([14.5, 18.5])
    ... )
    >>> checks = gear_mounting(
    ...     Drive(
    ...         gear=gears,
    ...         pinion=envelope.pinion,
    ...         motor=envelope.motor,
    ...         envelope=envelope,
    ...     )
    ... )
    >>> bar = next(one for one in checks if one.check is Check.CHASSIS_BAR)
    >>> bar.value
    array([ 1.75, -0.25])
    """
    return (
        _kind(drive),
        bore_column(drive.gear, axle_of(drive.envelope), bored=Bored.GEAR),
        _pitch(drive, is_pinion=False),
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
        _pitch(drive, is_pinion=True),
        _crown_cut(drive),
        *_spur_mesh(drive),
        *crown_mesh(drive),
    )


#: What a gear on an axle is, by its code; and its code, by that of the layout.
_KINDS: Final = {int(CROWN): GearRole.CROWN, int(SPUR): GearRole.SPUR}
_WANTED: Final = np.array(
    [tuple(GearRole).index(DRIVEN_BY[layout]) for layout in Layout], dtype=np.int8
)


def _kind(drive: Drive) -> CheckColumn:
    wanted = _WANTED[drive.envelope.column("layout").astype(np.intp)]

    def detail(row: int) -> KindsOfGear:
        return KindsOfGear(
            found=_KINDS.get(int(_at(drive.gear.role, row))),
            needed=_KINDS[int(_at(wanted, row))],
        )

    return CheckColumn(
        check=Check.KIND,
        value=np.where(drive.gear.role == wanted, 1.0, 0.0),
        lower=single(1.0),
        upper=NO_LIMIT,
        applies=ALWAYS,
        checked=ALWAYS,
        unit="",
        detail=detail,
    )


def _at(array: NDArray[np.generic], row: int) -> float:
    return float(array[row if len(array) > 1 else 0])


def _pitch(drive: Drive, *, is_pinion: bool) -> CheckColumn:
    gear, pinion = drive.gear, drive.pinion

    def detail(row: int) -> TwoPitches:
        both = [_named_pitch(_at(one.module_mm, row)) for one in (gear, pinion)]
        this, other = both[::-1] if is_pinion else both
        return TwoPitches(this=this, other=other, is_pinion=is_pinion)

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
        detail=detail,
    )


def _named_pitch(module_mm: float) -> tuple[float, str]:
    """Name a pitch as it is asked for over the counter."""
    nearest = min(PITCHES, key=lambda one: abs(one.module_mm - module_mm))
    is_it = 100.0 * abs(nearest.module_mm / module_mm - 1.0) <= MODULE_PERCENT
    return module_mm, nearest.name if is_it else ""


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
        u=drive.gear.u_of("outside_diameter_mm") / 2.0,
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
        u=drive.gear.u_of("hub_width_mm"),
    )


def _spur_mesh(drive: Drive) -> tuple[CheckColumn, CheckColumn, CheckColumn]:
    envelope, module = drive.envelope, drive.pinion.module_mm
    applies = ~envelope.in_line & (_pitch(drive, is_pinion=False).margin >= 0.0)
    backlash, contact, as_cut = _best_mesh(drive, applies)
    # Jammed teeth have none to speak of.
    in_contact = applies & ~(np.isnan(contact) & ~np.isnan(backlash))
    checked = ~envelope.anglewinder
    return (
        CheckColumn(
            check=Check.MESH,
            value=backlash,
            lower=single(LEAST_BACKLASH_MM),
            upper=MOST_BACKLASH_MODULES * module,
            applies=applies,
            checked=checked,
        ),
        CheckColumn(
            check=Check.CONTACT,
            value=contact,
            lower=single(LEAST_CONTACT_RATIO),
            upper=NO_LIMIT,
            applies=in_contact,
            checked=checked,
            unit="",
            warn_below=LOW_CONTACT_RATIO,
        ),
        CheckColumn(
            check=Check.CONTACT_AS_CUT,
            value=as_cut,
            lower=NO_LIMIT,
            upper=NO_LIMIT,
            applies=in_contact,
            checked=checked,
            unit="",
            warn_below=LEAST_CONTACT_RATIO,
        ),
    )


def _best_mesh(drive: Drive, applies: Bools) -> tuple[Floats, Floats, Floats]:
    """Give backlash and both contact ratios where the slot lets the gears run best."""
    gear, pinion, slot = drive.gear, drive.pinion, drive.envelope.mounting
    if not applies.any():
        unknown = np.full(applies.shape, np.nan)
        return unknown, unknown, unknown
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
    return run.backlash_mm, run.enlarged_contact_ratio, run.contact_ratio
