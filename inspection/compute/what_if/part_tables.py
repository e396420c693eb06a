"""
Parts as tables: one row a part, one array a size.

Millimetres, grams, ohms and rpm; NaN is not known.  Words are codes, their place
in the enumeration.  An array of one row counts for all rows of its table.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Self, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from inventory.compute.arrays import Codes, Floats, Ints
from inventory.compute.errors import ComputeError
from inventory.compute.stock import Fixing, GearRole

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

    Examples
    --------
    >>> unknown()
    array([nan])
    """
    return np.full(1, np.nan)


def _zero() -> Floats:
    return np.zeros(1)


def _no_word() -> Words:
    return np.array([""])


def _screw() -> Codes:
    return np.full(1, tuple(Fixing).index(Fixing.SCREW), dtype=np.int8)


def _spur() -> Codes:
    return np.full(1, SPUR)


@dataclass(frozen=True, kw_only=True, eq=False)
class Doubt:
    """
    How well a size of some parts is known, and off which gauge; ``(rows,)`` each.

    Standard uncertainties in the size's own unit: the reading's, and its gauge's.
    A gauge below 0 is shared with nothing.
    """

    random: Floats
    systematic: Floats
    gauge: Ints

    def take(self, rows: NDArray[np.intp] | slice) -> "Doubt":
        """
        Pick some rows.

        Parameters
        ----------
        rows : slice or ndarray of int
            Which, in this order.

        Returns
        -------
        Doubt
            Of those.
        """
        return Doubt(
            random=self.random[rows],
            systematic=self.systematic[rows],
            gauge=self.gauge[rows],
        )

    @classmethod
    def none(cls, rows: int) -> "Doubt":
        """
        Give sizes that are exact.

        Parameters
        ----------
        rows : int
            How many.

        Returns
        -------
        Doubt
            Zero throughout.
        """
        return cls(
            random=np.zeros(rows),
            systematic=np.zeros(rows),
            gauge=np.full(rows, -1, dtype=np.int64),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class PartTable:
    """
    Rows of parts; every array is ``(rows,)``.

    ``doubts`` says by the name of an array how well that size is known; one that is
    not named there is exact.

    Raises
    ------
    UnevenTableError
        If an array has neither one row nor as many as the others.

    Examples
    --------
    >>> spurs = Gears(teeth=np.array([27.0, 28.0]), module_mm=np.array([0.4]))
    >>> spurs.module_mm, spurs.bore_mm
    (array([0.4, 0.4]), array([nan, nan]))
    """

    doubts: Mapping[str, Doubt] = field(default_factory=dict)

    def __post_init__(self) -> None:
        shapes = {getattr(self, name).shape for name in self._arrays()}
        if any(len(shape) != 1 for shape in shapes):
            msg = "A table's arrays have one number a part."
            raise UnevenTableError(msg)
        lengths = {length for (length,) in shapes}
        if len(lengths - {1}) > 1:
            msg = f"A table's arrays have one length; these have {sorted(lengths)}."
            raise UnevenTableError(msg)
        rows = next(iter(lengths - {1}), 1)
        for name in self._arrays():
            whole = np.broadcast_to(getattr(self, name), (rows,))
            object.__setattr__(self, name, whole)

    @classmethod
    def _arrays(cls) -> tuple[str, ...]:
        return tuple(one.name for one in fields(cls) if one.name != "doubts")

    @property
    def row_count(self) -> int:
        """How many rows there are."""
        return len(getattr(self, self._arrays()[0]))

    def doubt(self, name: str) -> Doubt:
        """
        Say how well a size is known.

        Parameters
        ----------
        name : str
            Of its array.

        Returns
        -------
        Doubt
            None where nothing is said.
        """
        return self.doubts.get(name) or Doubt.none(self.row_count)

    def u_of(self, name: str) -> NDArray[np.float64]:
        """
        Give the standard uncertainty of a size.

        Parameters
        ----------
        name : str
            Of its array.

        Returns
        -------
        (rows,) ndarray
            0 where nothing is said.
        """
        known = self.doubt(name)
        return np.hypot(known.random, known.systematic)

    def take(self, rows: NDArray[np.intp] | slice) -> Self:
        """
        Pick some rows.

        Parameters
        ----------
        rows : slice or ndarray of int
            Which, in this order.

        Returns
        -------
        PartTable
            Of the same kind.
        """
        picked = {name: getattr(self, name)[rows] for name in self._arrays()}
        doubts = {name: doubt.take(rows) for name, doubt in self.doubts.items()}
        return type(self)(**picked, doubts=doubts)


TableT = TypeVar("TableT", bound=PartTable)


def stacked(tables: Sequence[TableT]) -> TableT:
    """
    Put tables of one kind below each other.

    Parameters
    ----------
    tables : sequence of PartTable
        At least one.

    Returns
    -------
    PartTable
        Of the same kind.

    Examples
    --------
    >>> spurs = Gears(teeth=np.array([27.0, 28.0]))
    >>> stacked([spurs, Gears(teeth=np.array([30.0]))]).teeth
    array([27., 28., 30.])
    """
    kind = type(tables[0])
    columns = {
        name: np.concatenate([getattr(table, name) for table in tables])
        for name in kind._arrays()
    }
    named = {name for table in tables for name in table.doubts}
    return kind(
        **columns,
        doubts={name: _joined([one.doubt(name) for one in tables]) for name in named},
    )


def _joined(doubts: Sequence[Doubt]) -> Doubt:
    return Doubt(
        random=np.concatenate([one.random for one in doubts]),
        systematic=np.concatenate([one.systematic for one in doubts]),
        gauge=np.concatenate([one.gauge for one in doubts]),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Gears(PartTable):
    """
    Spurs and crowns.

    ``outside_diameter_mm`` is the true one, for an odd count of teeth corrected.
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
    mass_g: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True, eq=False)
class Pinions(PartTable):
    """Pinions; ``length_mm`` is what sits on the shaft, teeth and hub together."""

    teeth: Floats
    module_mm: Floats = field(default_factory=unknown)
    family: Words = field(default_factory=_no_word)
    bore_mm: Floats = field(default_factory=unknown)
    fixing: Codes = field(default_factory=_screw)
    face_width_mm: Floats = field(default_factory=unknown)
    length_mm: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairs(PartTable):
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
    mass_g: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True, eq=False)
class Motors(PartTable):
    """Motors, their cans as they would be mounted."""

    can_height_mm: Floats
    can_width_mm: Floats = field(default_factory=unknown)
    can_length_mm: Floats = field(default_factory=unknown)
    shaft_height_in_can_mm: Floats = field(default_factory=unknown)
    shaft_diameter_mm: Floats = field(default_factory=unknown)
    shaft_length_mm: Floats = field(default_factory=unknown)
    speed_rpm: Floats = field(default_factory=unknown)
    resistance_ohm: Floats = field(default_factory=unknown)
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
