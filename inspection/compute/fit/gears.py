"""
Gears and pinions against a car: every check, the ratio, the rollout.

Rows are many parts against one car, or one part against many cars.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inspection.compute.fit.checks import (
    DECIMALS,
    Check,
    CheckColumn,
    CheckRow,
    CheckTable,
    ToMeasure,
)
from inspection.compute.fit.drive import ALWAYS, Drive
from inspection.compute.fit.envelopes import Envelope, Limits
from inspection.compute.fit.gear_checks import gear_mounting, pinion_mounting
from inspection.compute.fit.gear_wear import legal_to_mm
from inspection.compute.fit.ground import gear_ground, missing_for_gear
from inspection.compute.what_if import (
    TYRES,
    Gears,
    Pinions,
)
from inventory.compute.arrays import Bools, Floats
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
    def to_measure(self) -> tuple[ToMeasure, ...]:
        """What is missing, each once."""
        return self.table.to_measure

    @cached_property
    def legal_to_mm(self) -> Floats:
        """Mean rear diameter down to which the rules hold; NaN if they do not now."""
        return legal_to_mm(self.drive)

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Give one row's checks.

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

    Examples
    --------
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact(
    ...     {
    ...         "layout": [1.0],
    ...         "tyre_diameter_rear_left": [20.0],
    ...         "tyre_diameter_rear_right": [20.0],
    ...         "teeth_pinion": [9.0],
    ...     }
    ... )
    >>> rules = Rules.within({}, columns=car.columns)
    >>> fit = gear_fit(
    ...     Gears(teeth=np.array([27.0, 30.0])), Envelope(car=car, rulebook=rules)
    ... )
    >>> fit.ratio.round(3), fit.rollout_mm.round(2)
    (array([3.   , 3.333]), array([20.94, 18.85]))
    """
    drive = Drive(
        gear=gears, pinion=envelope.pinion, motor=envelope.motor, envelope=envelope
    )
    count = row_count(gears.row_count, envelope.car.car_count)
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

    Examples
    --------
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact({"layout": [1.0], "teeth_gear": [27.0]})
    >>> rules = Rules.within({}, columns=car.columns)
    >>> fit = pinion_fit(
    ...     Pinions(teeth=np.array([9.0, 10.0])), Envelope(car=car, rulebook=rules)
    ... )
    >>> fit.ratio
    array([3. , 2.7])
    """
    drive = Drive(
        gear=envelope.gear, pinion=pinions, motor=envelope.motor, envelope=envelope
    )
    count = row_count(pinions.row_count, envelope.car.car_count)
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
    lacking = () if ground.known else missing_for_gear(envelope.car)
    clearance = ground.clearance_mm(diameter)
    # Whatever the rulebook says, a gear may not touch the track.
    touches = np.round(clearance, DECIMALS) < 0.0
    u_gear = drive.gear.u_of("outside_diameter_mm")
    return (
        *_gearing_rules(drive),
        _limited(
            Check.DIAMETER,
            diameter,
            envelope.limits("gear_diameter"),
            u=u_gear,
        ),
        CheckColumn(
            check=Check.GROUND,
            value=clearance,
            lower=np.where(touches, np.fmax(limits.lower, 0.0), limits.lower),
            upper=limits.upper,
            applies=ALWAYS,
            checked=limits.given | touches | np.isnan(clearance),
            lacking=lacking,
            u=np.hypot(envelope.known_to("clearance_gear"), u_gear / 2.0),
        ),
    )


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

    Examples
    --------
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact(
    ...     {
    ...         "layout": [1.0],
    ...         "tyre_diameter_rear_left": [20.2],
    ...         "tyre_diameter_rear_right": [20.0],
    ...     }
    ... )
    >>> rules = Rules.within({}, columns=car.columns)
    >>> mean_tyre_mm(Envelope(car=car, rulebook=rules))
    array([20.1])
    """
    left, right = (envelope.column(name) for name in TYRES)
    return (left + right) / 2.0


def _gearing_rules(drive: Drive) -> tuple[CheckColumn, ...]:
    envelope, ratio = drive.envelope, ratio_of(drive)
    teeth = envelope.limits("teeth_gear")
    rollout = np.pi * mean_tyre_mm(envelope) / ratio
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
        ),
        _limited(Check.RATIO, ratio, envelope.limits("gear_ratio"), unit=""),
        _limited(
            Check.ROLLOUT,
            rollout,
            envelope.limits("rollout"),
            u=envelope.known_to("rollout"),
        ),
    )


def _limited(
    check: Check,
    value: Floats,
    limits: Limits,
    *,
    unit: str = "mm",
    u: Floats | None = None,
) -> CheckColumn:
    return CheckColumn(
        check=check,
        value=value,
        lower=limits.lower,
        upper=limits.upper,
        applies=limits.given,
        checked=ALWAYS,
        unit=unit,
        u=np.zeros(1) if u is None else u,
    )


def row_count(parts: int, cars: int) -> int:
    """
    Say how many rows parts against cars make, one of them being one.

    Parameters
    ----------
    parts, cars : int
        How many there are.

    Returns
    -------
    int
        A row a part, or a car.

    Raises
    ------
    RowsDisagreeError
        If there are many of both, and not as many.
    """
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
