"""
Tyres and motors against a car: room, bore and every rule that they move.

Rows are parts against one car.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inspection.compute.changes import (
    COLUMNS_OF_MOTOR,
    COLUMNS_OF_PAIR,
    Changes,
    with_parts,
)
from inspection.compute.drive import (
    ALWAYS,
    NO_LIMIT,
    Drive,
    bore_column,
    known_with,
)
from inspection.compute.envelope import MOUNTING_SIZES, Envelope
from inspection.compute.fit_rows import (
    Bools,
    Check,
    CheckColumn,
    CheckRow,
    CheckTable,
    Floats,
)
from inspection.compute.gear_fit import mean_tyre_mm
from inspection.compute.part_tables import Ints, Motors, Pairs, Stock
from inspection.compute.rule_columns import rule_columns
from inspection.compute.shaft_checks import motor_mounting
from inspection.compute.tyre_sizes import TyreSizes, legal_tyre_sizes


@dataclass(frozen=True, kw_only=True, eq=False)
class TyreFit:
    """Pairs of rear tyres against one car; ``(rows,)`` arrays."""

    table: CheckTable
    rollout_mm: Floats
    rollout_change_percent: Floats
    envelope: Envelope

    @property
    def fits(self) -> Bools:
        """Whether every check holds."""
        return self.table.fits

    @property
    def to_measure(self) -> tuple[str, ...]:
        """What is missing, each once."""
        return self.table.to_measure

    @cached_property
    def sizes(self) -> TyreSizes:
        """Diameters that are legal with the gear and the motor of now."""
        return legal_tyre_sizes(self.envelope.rulebook, self.envelope.car)

    @cached_property
    def order(self) -> Ints:
        """Rows, best first: what fits, then the least change of rollout."""
        change = abs(self.rollout_change_percent)
        return np.lexsort((np.where(np.isnan(change), np.inf, change), ~self.fits))

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Put one pair's checks into words.

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
    """Motors against one car; ``lift_mm`` brings each shaft to the axle's line."""

    table: CheckTable
    lift_mm: Floats

    @property
    def fits(self) -> Bools:
        """Whether every check holds."""
        return self.table.fits

    @property
    def to_measure(self) -> tuple[str, ...]:
        """What is missing, each once."""
        return self.table.to_measure

    @cached_property
    def order(self) -> Ints:
        """Rows, best first: what fits, in the order given."""
        return np.argsort(~self.fits, kind="stable")

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Put one motor's checks into words.

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
    Check pairs of rear tyres against a car.

    Parameters
    ----------
    pairs : Pairs
        The pairs.
    envelope : Envelope
        One car.

    Returns
    -------
    TyreFit
        A row a pair.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    """
    car, count = envelope.car, pairs.row_count
    none = np.full(count, -1)
    changed = with_parts(
        car,
        Stock(pairs=pairs),
        Changes(pair=np.arange(count), gear=none, motor=none),
        envelope.masses,
    )
    mean = (pairs.left_diameter_mm + pairs.right_diameter_mm) / 2.0
    ratio = envelope.gear.teeth / envelope.pinion.teeth
    return TyreFit(
        table=CheckTable(
            columns=(
                *tyre_mounting(pairs, envelope),
                *rule_columns(envelope.rulebook, car, changed, COLUMNS_OF_PAIR),
            ),
            row_count=count,
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
    """
    arch = envelope.mounting.arch_width_mm
    return (
        bore_column(
            pairs.bore_mm,
            envelope.column("axle_diameter"),
            fixing=pairs.fixing,
            measure="the wheels' bore by pin gauge, and the axle",
        ),
        CheckColumn(
            check=Check.TYRE_WIDTH,
            value=known_with(pairs.width_mm, arch),
            lower=NO_LIMIT,
            upper=arch,
            applies=ALWAYS,
            checked=ALWAYS,
            measure=f"the tyre's width, and {MOUNTING_SIZES['arch_width_mm']}",
        ),
    )


def motor_fit(motors: Motors, envelope: Envelope) -> MotorFit:
    """
    Check motors against a car, its pinion and its gear.

    Parameters
    ----------
    motors : Motors
        The motors.
    envelope : Envelope
        One car.

    Returns
    -------
    MotorFit
        A row a motor.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    """
    car, count = envelope.car, motors.row_count
    none = np.full(count, -1)
    changed = with_parts(
        car,
        Stock(motors=motors),
        Changes(pair=none, gear=none, motor=np.arange(count)),
        envelope.masses,
    )
    mounting = motor_mounting(
        Drive(
            gear=envelope.gear, pinion=envelope.pinion, motor=motors, envelope=envelope
        )
    )
    (lift,) = (column for column in mounting if column.check is Check.LIFT)
    rules = rule_columns(envelope.rulebook, car, changed, COLUMNS_OF_MOTOR)
    return MotorFit(
        table=CheckTable(columns=(*mounting, *rules), row_count=count),
        lift_mm=lift.value,
    )
