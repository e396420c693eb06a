"""
Parts as tables: one row a part, one array a size.

Millimetres, grams, ohms and rpm; NaN is not known.  Words are codes, their place
in the enumeration.  An array of one row counts for all rows of its table.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Self, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError
from inventory.compute.stock import Fixing, GearRole

Floats: TypeAlias = NDArray[np.float64]
Codes: TypeAlias = NDArray[np.int8]
Ints: TypeAlias = NDArray[np.int64]
Words: TypeAlias = NDArray[np.str_]

SPUR = np.int8(tuple(GearRole).index(GearRole.SPUR))
CROWN = np.int8(tuple(GearRole).index(GearRole.CROWN))


class UnevenTableError(ComputeError):
    """The arrays of a table are not all of the same rows."""

    code = "uneven_table"


def unknown() -> Floats:
    """
    One row that is not known.

    Returns
    -------
    (1,) ndarray
        NaN.
    """
    return np.full(1, np.nan)


def _zero() -> Floats:
    return np.zeros(1)


def _alone() -> Ints:
    return np.full(1, -1)


def _no_word() -> Words:
    return np.array([""])


def _screw() -> Codes:
    return np.full(1, tuple(Fixing).index(Fixing.SCREW), dtype=np.int8)


def _spur() -> Codes:
    return np.full(1, SPUR)


@dataclass(frozen=True, kw_only=True, eq=False)
class Table:
    """
    Rows of parts; every array is ``(rows,)``.

    Raises
    ------
    UnevenTableError
        If an array has neither one row nor as many as the others.
    """

    def __post_init__(self) -> None:
        shapes = {getattr(self, one.name).shape for one in fields(self)}
        if any(len(shape) != 1 for shape in shapes):
            msg = "A table's arrays have one number a part."
            raise UnevenTableError(msg)
        lengths = {length for (length,) in shapes}
        if len(lengths - {1}) > 1:
            msg = f"A table's arrays have one length; these have {sorted(lengths)}."
            raise UnevenTableError(msg)
        rows = next(iter(lengths - {1}), 1)
        for one in fields(self):
            whole = np.broadcast_to(getattr(self, one.name), (rows,))
            object.__setattr__(self, one.name, whole)

    @property
    def row_count(self) -> int:
        """How many rows there are."""
        first = fields(self)[0].name
        return len(getattr(self, first))

    def take(self, rows: NDArray[np.intp] | slice) -> Self:
        """
        Pick some rows.

        Parameters
        ----------
        rows : slice or ndarray of int
            Which, in this order.

        Returns
        -------
        Table
            Of the same kind.
        """
        picked = {one.name: getattr(self, one.name)[rows] for one in fields(self)}
        return type(self)(**picked)


TableT = TypeVar("TableT", bound=Table)


def stacked(tables: Sequence[TableT]) -> TableT:
    """
    Put tables of one kind below each other.

    Parameters
    ----------
    tables : sequence of Table
        At least one.

    Returns
    -------
    Table
        Of the same kind.
    """
    kind = type(tables[0])
    columns = {
        one.name: np.concatenate([getattr(table, one.name) for table in tables])
        for one in fields(kind)
    }
    return kind(**columns)


@dataclass(frozen=True, kw_only=True, eq=False)
class Gears(Table):
    """
    Spurs and crowns.

    ``outside_diameter_mm`` is the true one, for an odd count of teeth corrected;
    ``random_mm``, ``systematic_mm`` and ``gauge`` say how well it is known.
    """

    teeth: Floats
    outside_diameter_mm: Floats = field(default_factory=unknown)
    module_mm: Floats = field(default_factory=unknown)
    family: Words = field(default_factory=_no_word)
    role: Codes = field(default_factory=_spur)
    bore_mm: Floats = field(default_factory=unknown)
    fixing: Codes = field(default_factory=_screw)
    hub_width_mm: Floats = field(default_factory=unknown)
    face_width_mm: Floats = field(default_factory=unknown)
    crown_depth_mm: Floats = field(default_factory=unknown)
    cut_for_teeth: Floats = field(default_factory=unknown)
    design_offset_mm: Floats = field(default_factory=_zero)
    random_mm: Floats = field(default_factory=_zero)
    systematic_mm: Floats = field(default_factory=_zero)
    gauge: Ints = field(default_factory=_alone)
    mass_g: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True, eq=False)
class Pinions(Table):
    """Pinions; ``length_mm`` is what sits on the shaft, teeth and hub together."""

    teeth: Floats
    module_mm: Floats = field(default_factory=unknown)
    family: Words = field(default_factory=_no_word)
    bore_mm: Floats = field(default_factory=unknown)
    fixing: Codes = field(default_factory=_screw)
    face_width_mm: Floats = field(default_factory=unknown)
    length_mm: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairs(Table):
    """Pairs of rear tyres on their wheels, as they go on: left and right."""

    left_diameter_mm: Floats
    right_diameter_mm: Floats
    width_mm: Floats = field(default_factory=unknown)
    bore_mm: Floats = field(default_factory=unknown)
    fixing: Codes = field(default_factory=_screw)
    hardness: Floats = field(default_factory=unknown)
    out_of_round_mm: Floats = field(default_factory=unknown)
    taper_mm: Floats = field(default_factory=unknown)
    run_out_mm: Floats = field(default_factory=unknown)
    rim_diameter_mm: Floats = field(default_factory=unknown)
    random_mm: Floats = field(default_factory=_zero)
    systematic_mm: Floats = field(default_factory=_zero)
    gauge: Ints = field(default_factory=_alone)
    mass_g: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True, eq=False)
class Motors(Table):
    """Motors, their cans as they would be mounted."""

    can_height_mm: Floats
    can_width_mm: Floats = field(default_factory=unknown)
    can_length_mm: Floats = field(default_factory=unknown)
    shaft_height_in_can_mm: Floats = field(default_factory=unknown)
    shaft_diameter_mm: Floats = field(default_factory=unknown)
    shaft_length_mm: Floats = field(default_factory=unknown)
    speed_rpm: Floats = field(default_factory=unknown)
    resistance_ohm: Floats = field(default_factory=unknown)
    random_mm: Floats = field(default_factory=_zero)
    systematic_mm: Floats = field(default_factory=_zero)
    gauge: Ints = field(default_factory=_alone)
    mass_g: Floats = field(default_factory=unknown)

    @property
    def axis_in_can_mm(self) -> Floats:
        """The shaft over the can's underside; half the can where not measured."""
        half = self.can_height_mm / 2.0
        given = self.shaft_height_in_can_mm
        return np.where(np.isnan(given), half, given)


def _no_pairs() -> Pairs:
    return Pairs(left_diameter_mm=np.empty(0), right_diameter_mm=np.empty(0))


def _no_gears() -> Gears:
    return Gears(teeth=np.empty(0))


def _no_motors() -> Motors:
    return Motors(can_height_mm=np.empty(0))


@dataclass(frozen=True, kw_only=True, eq=False)
class Stock:
    """What is in the drawers, one table a kind."""

    pairs: Pairs = field(default_factory=_no_pairs)
    gears: Gears = field(default_factory=_no_gears)
    motors: Motors = field(default_factory=_no_motors)
