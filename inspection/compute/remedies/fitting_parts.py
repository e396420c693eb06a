"""
Which parts of a stock can go on a car, and which gear with which motor.

A gear's seat may hang on the motor and a motor's on the gear; tyres hang on
neither.  So all combinations follow from one list and three tables.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inspection.compute.fit import (
    CheckColumn,
    CheckTable,
    Drive,
    Envelope,
    gear_mounting,
    motor_mounting,
    tyre_mounting,
)
from inspection.compute.what_if import Changes, Gears, Motors, Stock
from inventory.compute.arrays import Bools


@dataclass(frozen=True, eq=False, kw_only=True)
class RemedyFits:
    """A stock against one car."""

    stock: Stock
    envelope: Envelope

    def fits(self, changes: Changes) -> Bools:
        """
        Tell which changes can be mounted.

        Parameters
        ----------
        changes : Changes
            Which parts go on.

        Returns
        -------
        (rows,) ndarray of bool
            Where every check of every part that goes on holds.
        """
        # The last of each is what stays on the car.
        pairs = np.append(self._pairs, [True])
        return pairs[changes.pair] & self._drives[changes.gear, changes.motor]

    @cached_property
    def _pairs(self) -> Bools:
        columns = tyre_mounting(self.stock.pairs, self.envelope)
        return _fits(columns, self.stock.pairs.row_count)

    @cached_property
    def _drives(self) -> Bools:
        """Gears by motors."""
        gears, motors = self.stock.gears, self.stock.motors
        g, m = gears.row_count, motors.row_count
        every = np.repeat(np.arange(g), m), np.tile(np.arange(m), g)
        table = np.ones((g + 1, m + 1), dtype=np.bool_)
        table[:g, m] = self._gears_fit(gears, self.envelope.motor)
        table[g, :m] = self._motors_fit(self.envelope.gear, motors)
        both = gears.take(every[0]), motors.take(every[1])
        table[:g, :m] = (self._gears_fit(*both) & self._motors_fit(*both)).reshape(g, m)
        return table

    def _gears_fit(self, gears: Gears, motors: Motors) -> Bools:
        drive = self._drive(gears, motors)
        larger = gears.teeth >= self.envelope.pinion.teeth
        return _fits(gear_mounting(drive), gears.row_count) & larger

    def _motors_fit(self, gears: Gears, motors: Motors) -> Bools:
        return _fits(motor_mounting(self._drive(gears, motors)), motors.row_count)

    def _drive(self, gears: Gears, motors: Motors) -> Drive:
        return Drive(
            gear=gears,
            pinion=self.envelope.pinion,
            motor=motors,
            envelope=self.envelope,
        )


def _fits(columns: tuple[CheckColumn, ...], rows: int) -> Bools:
    return CheckTable(columns=columns, row_count=rows).fits
