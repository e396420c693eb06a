"""
Gears and pinions against a car: every check, the ratio, the rollout.

Rows are many parts against one car, or one part against many cars.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from inspection.compute.changes import TYRES
from inspection.compute.drive import ALWAYS, Drive
from inspection.compute.envelope import Envelope, Limits
from inspection.compute.fit_rows import (
    Bools,
    Check,
    CheckColumn,
    CheckRow,
    CheckTable,
    Floats,
)
from inspection.compute.gear_checks import gear_mounting, pinion_mounting
from inspection.compute.gear_wear import legal_to_mm
from inspection.compute.ground import gear_ground, missing_for_gear
from inspection.compute.part_tables import Gears, Ints, Pinions
from inventory.compute.errors import ComputeError


class RowsDisagreeError(ComputeError):
    """Many parts were set against another number of cars."""

    code = "rows_disagree"


@dataclass(frozen=True, kw_only=True, eq=False)
class GearFit:
    """
    Gears, or pinions, against cars; ``(rows,)`` arrays.

    ``rollout_change_percent`` is against what is on the car; ``legal_to_mm`` the
    mean diameter that the rear tyres may wear down to with this gear, worked out
    when asked for and against one car only.
    """

    table: CheckTable
    ratio: Floats
    rollout_mm: Floats
    rollout_change_percent: Floats
    drive: Drive

    @property
    def fits(self) -> Bools:
        """Whether every check holds."""
        return self.table.fits

    @property
    def to_measure(self) -> tuple[str, ...]:
        """What is missing, each once."""
        return self.table.to_measure

    @cached_property
    def legal_to_mm(self) -> Floats:
        """Mean rear diameter down to which the rules hold; NaN if they do not now."""
        return legal_to_mm(self.drive)

    @cached_property
    def order(self) -> Ints:
        """Rows, best first: what fits, then the least change of rollout."""
        change = abs(self.rollout_change_percent)
        return np.lexsort((np.where(np.isnan(change), np.inf, change), ~self.fits))

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Put one row's checks into words.

        Parameters
        ----------
        row : int
            Which.

        Returns
        -------
        tuple of CheckRow
            Those that apply.

        Raises
        ------
        NoSuchRowError
            If there is no such row.
        """
        return self.table.rows(row)


def gear_fit(gears: Gears, envelope: Envelope) -> GearFit:
    """
    Check gears against a car, or one gear against many.

    Parameters
    ----------
    gears : Gears
        The gears.
    envelope : Envelope
        The car or cars, with the pinion on them.

    Returns
    -------
    GearFit
        A row a gear, or a car.

    Raises
    ------
    RowsDisagreeError
        If there are many gears and another number of cars.
    TeethError
        If a count of teeth is not a gear's.
    """
    drive = Drive(
        gear=gears, pinion=envelope.pinion, motor=envelope.motor, envelope=envelope
    )
    count = _row_count(gears.row_count, envelope.car.cars)
    return _fit(drive, (*gear_mounting(drive), *gear_rules(drive)), count)


def pinion_fit(pinions: Pinions, envelope: Envelope) -> GearFit:
    """
    Check pinions against a car, or one pinion against many.

    Parameters
    ----------
    pinions : Pinions
        The pinions.
    envelope : Envelope
        The car or cars, with the gear and the motor on them.

    Returns
    -------
    GearFit
        A row a pinion, or a car.

    Raises
    ------
    RowsDisagreeError
        If there are many pinions and another number of cars.
    TeethError
        If a count of teeth is not a gear's.
    """
    drive = Drive(
        gear=envelope.gear, pinion=pinions, motor=envelope.motor, envelope=envelope
    )
    count = _row_count(pinions.row_count, envelope.car.cars)
    columns = (*pinion_mounting(drive), *_gearing_rules(drive))
    return _fit(drive, columns, count)


def gear_rules(drive: Drive) -> tuple[CheckColumn, ...]:
    """
    Check gears against the rules that speak of them, and the ground.

    Parameters
    ----------
    drive : Drive
        Rows of gears.

    Returns
    -------
    tuple of CheckColumn
        Teeth, ratio, rollout, diameter, ground.
    """
    envelope, diameter = drive.envelope, drive.gear.outside_diameter_mm
    limits, ground = envelope.limits("clearance_gear"), gear_ground(envelope.car)
    lacking = missing_for_gear(envelope.car) if not ground.known else ""
    return (
        *_gearing_rules(drive),
        _limited(
            Check.DIAMETER, diameter, envelope.limits("gear_diameter"), measure=_OVER
        ),
        CheckColumn(
            check=Check.GROUND,
            value=ground.clearance_mm(diameter),
            # Whatever the rulebook says, a gear may not touch the track.
            lower=np.fmax(limits.lower, 0.0),
            upper=limits.upper,
            applies=ALWAYS,
            checked=ALWAYS,
            measure=lacking or _OVER,
        ),
    )


_OVER: Final = "the gear over its teeth"


def ratio_of(drive: Drive) -> Floats:
    """
    Take the gear ratio.

    Parameters
    ----------
    drive : Drive
        Rows.

    Returns
    -------
    (rows,) ndarray
        Teeth of the gear over teeth of the pinion.
    """
    return np.asarray(drive.gear.teeth / drive.pinion.teeth)


def mean_tyre_mm(envelope: Envelope) -> Floats:
    """
    Take the mean of the rear tyres.

    Parameters
    ----------
    envelope : Envelope
        The cars.

    Returns
    -------
    (cars,) ndarray
        Diameter, mm.
    """
    left, right = (envelope.column(name) for name in TYRES)
    return (left + right) / 2.0


def _gearing_rules(drive: Drive) -> tuple[CheckColumn, ...]:
    envelope, ratio = drive.envelope, ratio_of(drive)
    teeth = envelope.limits("teeth_gear")
    rollout = np.pi * mean_tyre_mm(envelope) / ratio
    measure = "the teeth of gear and pinion"
    return (
        CheckColumn(
            check=Check.TEETH,
            value=drive.gear.teeth + 0.0 * drive.pinion.teeth,
            # A pinion larger than its gear is one taken for the other.
            lower=np.fmax(teeth.lower, drive.pinion.teeth),
            upper=teeth.upper,
            applies=ALWAYS,
            checked=ALWAYS,
            unit="teeth",
            measure=measure,
        ),
        _limited(
            Check.RATIO, ratio, envelope.limits("gear_ratio"), unit="", measure=measure
        ),
        _limited(
            Check.ROLLOUT,
            rollout,
            envelope.limits("rollout"),
            measure=f"the rear tyres, and {measure}",
        ),
    )


def _limited(
    check: Check, value: Floats, limits: Limits, *, unit: str = "mm", measure: str
) -> CheckColumn:
    return CheckColumn(
        check=check,
        value=value,
        lower=limits.lower,
        upper=limits.upper,
        applies=limits.given,
        checked=ALWAYS,
        unit=unit,
        measure=measure,
    )


def _row_count(parts: int, cars: int) -> int:
    if parts != cars and 1 not in {parts, cars}:
        msg = f"{parts} parts against {cars} cars: one of them was expected to be one."
        raise RowsDisagreeError(msg)
    return parts if cars == 1 else cars


def _fit(drive: Drive, columns: tuple[CheckColumn, ...], rows: int) -> GearFit:
    envelope, tyre = drive.envelope, mean_tyre_mm(drive.envelope)
    ratio = np.broadcast_to(ratio_of(drive), (rows,))
    now = envelope.gear.teeth / envelope.pinion.teeth
    return GearFit(
        table=CheckTable(columns=columns, row_count=rows),
        ratio=ratio,
        rollout_mm=np.pi * tyre / ratio,
        rollout_change_percent=100.0 * (now / ratio - 1.0),
        drive=drive,
    )
