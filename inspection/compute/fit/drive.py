"""
Gears, pinions and motors set against cars, row by row, and what each must meet.

Rows are parts against one car, one part against many cars, or one of each; an
array of one row counts for all.  Millimetres; NaN is not known.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from inspection.compute.fit.checks import (
    GUARD,
    Bored,
    Check,
    CheckColumn,
    CoarseBore,
)
from inspection.compute.fit.envelopes import Envelope
from inspection.compute.quantities import Layout
from inspection.compute.what_if import Gears, Motors, Pairs, Pinions
from inventory.compute.arrays import Floats
from inventory.compute.stock import Fixing, GearRole

#: Bore over shaft that each way of fixing wants, mm.  Splined and soldered wheels
#: are bored to the shaft's nominal size, and neighbours on the list of sizes in use
#: (2.00, 2.38, 2.50, 3.00, 3.18) lie further apart than this.
BORES_MM: Final = {
    Fixing.SCREW: (0.0, 0.05),
    Fixing.PRESS: (-0.10, 0.0),
    Fixing.SPLINED: (-0.05, 0.05),
    Fixing.SOLDERED: (-0.05, 0.05),
}
#: Half of what the nearest two of those sizes lie apart, 2.38 and 2.50, mm.
OTHER_SIZE_MM: Final = 0.06
#: What sits on the axle, by how the motor lies to it: only a crown's teeth meet a
#: pinion whose shaft points at the axle.  Common practice, no source.
DRIVEN_BY: Final[Mapping[Layout, GearRole]] = MappingProxyType(
    {
        Layout.IN_LINE: GearRole.CROWN,
        Layout.SIDEWINDER: GearRole.SPUR,
        Layout.ANGLEWINDER: GearRole.SPUR,
    }
)
#: Modules that run together, percent apart.
MODULE_PERCENT: Final = 0.5
BAR_GAP_MM: Final = 0.3
SHAFT_END_GAP_MM: Final = 0.3
LEAST_BACKLASH_MM: Final = 0.02
MOST_BACKLASH_MODULES: Final = 0.25
LEAST_CONTACT_RATIO: Final = 1.0
#: Nearer to the least than this is pointed out; common practice, no source.
LOW_CONTACT_RATIO: Final = 1.1
LEAST_CROWN_SHARE: Final = 0.8
#: Motor shaft to axle line where the class says nothing.
OFFSET_LIMIT_MM: Final = 0.25

NO_LIMIT: Final = np.full(1, np.nan)
ALWAYS: Final = np.ones(1, dtype=np.bool_)


@dataclass(frozen=True, kw_only=True, eq=False)
class Drive:
    """Gears, pinions and motors set against cars, row by row."""

    gear: Gears
    pinion: Pinions
    motor: Motors
    envelope: Envelope


@dataclass(frozen=True, kw_only=True, eq=False)
class Known:
    """A size of each row and its standard uncertainty, mm; NaN not known."""

    value: Floats
    u: Floats


def axle_of(envelope: Envelope) -> Known:
    """
    Take the axle that gears and wheels go on.

    Parameters
    ----------
    envelope : Envelope
        The cars.

    Returns
    -------
    Known
        Its diameter.
    """
    name = "axle_diameter"
    return Known(value=envelope.column(name), u=envelope.read_to(name))


def single(value: float) -> Floats:
    """
    Make one figure count for all rows.

    Parameters
    ----------
    value : float
        The figure.

    Returns
    -------
    (1,) ndarray
        The same.
    """
    return np.full(1, value)


def known_with(value: Floats, limit: Floats) -> Floats:
    """
    Forget a value that there is nothing to compare with.

    Parameters
    ----------
    value, limit : (rows,) ndarray
        A figure and its limit.

    Returns
    -------
    (rows,) ndarray
        NaN where the limit is.
    """
    return np.where(np.isnan(limit), np.nan, value)


def bore_column(
    parts: Gears | Pinions | Pairs, shaft: Known, *, bored: Bored
) -> CheckColumn:
    """
    Check a bore on an axle or shaft, by how it is fixed.

    A bore is read by pin gauges and a shaft by a micrometer, so the two errors have
    nothing in common: JCGM 100:2008, 5.1.2.  Where they were read so coarsely, as by
    a caliper's tips, that no bore could be sure, they are taken for the sizes of the
    list that they name: what is of one size goes together, and is to be tried on.

    Parameters
    ----------
    parts : Gears, Pinions or Pairs
        What has the bore, mm, and how it is fixed.
    shaft : Known
        Its diameter, mm.
    bored : Bored
        Which of the three.

    Returns
    -------
    CheckColumn
        Bore over shaft.
    """
    lower, upper = np.array([BORES_MM[one] for one in Fixing])[parts.fixing].T
    u = np.hypot(parts.u_of("bore_mm"), shaft.u)
    middle, half = (lower + upper) / 2, (upper - lower) / 2
    coarse = half < GUARD * u
    half = np.where(coarse, OTHER_SIZE_MM, half)

    def detail(row: int) -> CoarseBore | None:
        at, fixed = (row if len(one) > 1 else 0 for one in (coarse, lower))
        if not coarse[at]:
            return None
        return CoarseBore(lower=float(lower[fixed]), upper=float(upper[fixed]))

    return CheckColumn(
        check=Check.BORE,
        value=parts.bore_mm - shaft.value,
        lower=np.where(coarse, middle - half, lower),
        upper=np.where(coarse, middle + half, upper),
        applies=ALWAYS,
        checked=ALWAYS,
        bored=bored,
        u=np.where(coarse, 0.0, u),
        detail=detail,
    )
