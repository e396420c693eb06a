"""
Tyres and motors against a car: room, bore and every rule that they move.

Rows are parts against one car, or one part against many cars.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inspection.compute.fit.checks import (
    Bored,
    Check,
    CheckColumn,
    CheckRow,
    CheckTable,
    ToMeasure,
)
from inspection.compute.fit.drive import (
    ALWAYS,
    NO_LIMIT,
    Drive,
    axle_of,
    bore_column,
    known_with,
)
from inspection.compute.fit.envelopes import Envelope
from inspection.compute.fit.gears import mean_tyre_mm, row_count
from inspection.compute.fit.rule_columns import rule_columns
from inspection.compute.fit.shaft_checks import lift_to_axle_mm, motor_mounting
from inspection.compute.what_if import (
    Change,
    Changes,
    Motors,
    Pairs,
    Stock,
    TyreSizes,
    columns_of_change,
    legal_tyre_sizes,
    with_parts,
)
from inventory.compute.arrays import Bools, Floats, Ints


@dataclass(frozen=True, kw_only=True, eq=False)
class TyreFit:
    """Pairs of rear tyres against a car, or one against many; ``(rows,)`` arrays."""

    table: CheckTable
    rollout_mm: Floats
    rollout_change_percent: Floats
    envelope: Envelope

    @property
    def fits(self) -> Bools:
        """Whether every check holds."""
        return self.table.fits

    @property
    def to_measure(self) -> tuple[ToMeasure, ...]:
        """What is missing, each once."""
        return self.table.to_measure

    @cached_property
    def sizes(self) -> TyreSizes:
        """Diameters that are legal with the gear and the motor of now."""
        return legal_tyre_sizes(self.envelope.rulebook, self.envelope.car)

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Give one pair's checks.

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


@dataclass(frozen=True, kw_only=True, eq=False)
class MotorFit:
    """
    Motors against a car, or one against many.

    ``lift_mm`` brings each shaft to the axle's line.
    """

    table: CheckTable
    lift_mm: Floats

    @property
    def fits(self) -> Bools:
        """Whether every check holds."""
        return self.table.fits

    @property
    def to_measure(self) -> tuple[ToMeasure, ...]:
        """What is missing, each once."""
        return self.table.to_measure

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Give one motor's checks.

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


def tyre_fit(pairs: Pairs, envelope: Envelope) -> TyreFit:
    """
    Check pairs of rear tyres against a car, or one pair against many.

    Parameters
    ----------
    pairs : Pairs
        The pairs.
    envelope : Envelope
        The car or cars.

    Returns
    -------
    TyreFit
        A row a pair, or a car.

    Raises
    ------
    RowsDisagreeError
        If there are many pairs and another number of cars.

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
    ...         "teeth_gear": [27.0],
    ...     }
    ... )
    >>> rules = Rules.within({}, columns=car.columns)
    >>> pairs = Pairs(
    ...     left_diameter_mm=np.array([19.8]), right_diameter_mm=np.array([19.8])
    ... )
    >>> fit = tyre_fit(pairs, Envelope(car=car, rulebook=rules))
    >>> fit.rollout_mm.round(3), fit.rollout_change_percent.round(3)
    (array([20.735]), array([-1.]))
    """
    car, rows = envelope.car, _rows_of(pairs.row_count, envelope)
    none = np.full(len(rows), -1)
    changed = with_parts(
        car,
        Stock(pairs=pairs),
        Changes(pair=rows, gear=none, motor=none),
        envelope.masses,
    )
    mean = (pairs.left_diameter_mm + pairs.right_diameter_mm) / 2.0
    ratio = envelope.gear.teeth / envelope.pinion.teeth
    return TyreFit(
        table=CheckTable(
            columns=(
                *tyre_mounting(pairs, envelope),
                *rule_columns(
                    envelope.rulebook, car, changed, columns_of_change(Change.PAIR)
                ),
            ),
            row_count=len(rows),
        ),
        rollout_mm=np.pi * mean / ratio,
        rollout_change_percent=100.0 * (mean / mean_tyre_mm(envelope) - 1.0),
        envelope=envelope,
    )


def tyre_mounting(pairs: Pairs, envelope: Envelope) -> tuple[CheckColumn, ...]:
    """
    Check whether pairs of tyres can be mounted, whatever the rulebook says.

    Parameters
    ----------
    pairs : Pairs
        The pairs.
    envelope : Envelope
        One car, or many.

    Returns
    -------
    tuple of CheckColumn
        Bore of the wheels, width in the arch.

    Examples
    --------
    >>> from inspection.compute.fit.envelopes import Mounting
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact({"layout": [1.0]})
    >>> envelope = Envelope(
    ...     car=car,
    ...     rulebook=Rules.within({}, columns=car.columns),
    ...     mounting=Mounting(arch_width_mm=np.array([17.0])),
    ... )
    >>> pairs = Pairs(
    ...     left_diameter_mm=np.array([20.0]),
    ...     right_diameter_mm=np.array([20.0]),
    ...     width_mm=np.array([16.5]),
    ... )
    >>> width = tyre_mounting(pairs, envelope)[1]
    >>> width.check.name, width.value, width.upper
    ('TYRE_WIDTH', array([16.5]), array([17.]))
    """
    arch = envelope.mounting.arch_width_mm
    return (
        bore_column(pairs, axle_of(envelope), bored=Bored.WHEELS),
        CheckColumn(
            check=Check.TYRE_WIDTH,
            value=known_with(pairs.width_mm, arch),
            lower=NO_LIMIT,
            upper=arch,
            applies=ALWAYS,
            checked=ALWAYS,
            u=pairs.u_of("width_mm"),
        ),
    )


def motor_fit(motors: Motors, envelope: Envelope) -> MotorFit:
    """
    Check motors against a car with its pinion and gear, or one motor against many.

    Parameters
    ----------
    motors : Motors
        The motors.
    envelope : Envelope
        The car or cars.

    Returns
    -------
    MotorFit
        A row a motor, or a car.

    Raises
    ------
    RowsDisagreeError
        If there are many motors and another number of cars.

    Examples
    --------
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact(
    ...     {
    ...         "layout": [1.0],
    ...         "axle_height_rear_left": [8.5],
    ...         "axle_height_rear_right": [8.5],
    ...     }
    ... )
    >>> envelope = Envelope(car=car, rulebook=Rules.within({}, columns=car.columns))
    >>> motor_fit(Motors(can_height_mm=np.array([16.6])), envelope).lift_mm.round(3)
    array([0.2])
    """
    car, rows = envelope.car, _rows_of(motors.row_count, envelope)
    none = np.full(len(rows), -1)
    changed = with_parts(
        car,
        Stock(motors=motors),
        Changes(pair=none, gear=none, motor=rows),
        envelope.masses,
    )
    drive = Drive(
        gear=envelope.gear, pinion=envelope.pinion, motor=motors, envelope=envelope
    )
    rules = rule_columns(
        envelope.rulebook, car, changed, columns_of_change(Change.MOTOR)
    )
    return MotorFit(
        table=CheckTable(columns=(*motor_mounting(drive), *rules), row_count=len(rows)),
        lift_mm=lift_to_axle_mm(drive),
    )


def _rows_of(parts: int, envelope: Envelope) -> Ints:
    """Say which part each row is of."""
    count = row_count(parts, envelope.car.car_count)
    return np.arange(count) if parts == count else np.zeros(count, dtype=np.int64)
