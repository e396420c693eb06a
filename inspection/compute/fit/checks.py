"""
The checks of a fit, as columns of numbers; a row of them by itself when asked for.

One row a part (or a car, for one part against many), one column a check.  A
hundred thousand parts are arrays.  The sentences are made of a row at the edge, in
`inspection/words/fit.py`.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from inventory.compute.arrays import Bools, Codes, Floats
from inventory.compute.errors import ComputeError
from inventory.compute.stock import GearRole

#: Values and limits are compared in whole millionths of their unit.
DECIMALS: Final = 6
#: Guard band over u at 95 %, one-sided: JCGM 106:2012, 8.3.2.
GUARD: Final = 1.645


class NoSuchRowError(ComputeError):
    """A row was asked for that the fit does not have."""

    code = "no_such_row"


class Check(StrEnum):
    """What has to hold for a part to fit a car."""

    KIND = "kind of gear"
    BORE = "bore"
    PITCH = "pitch"
    CROWN_CUT = "crown cut"
    TEETH = "teeth"
    RATIO = "ratio"
    ROLLOUT = "rollout"
    DIAMETER = "diameter"
    GROUND = "ground"
    CHASSIS_BAR = "chassis bar"
    ROOM = "room on the axle"
    MESH = "mesh"
    CONTACT = "contact ratio"
    CONTACT_AS_CUT = "contact ratio as cut"
    CROWN_SEAT = "crown seat"
    CROWN_FACE = "crown face"
    SHAFT_END = "shaft end"
    MOTOR_AXLE_OFFSET = "motor-axle offset"
    PINION_LENGTH = "pinion length"
    TYRE_WIDTH = "tyre width"
    CAN_HEIGHT = "can height"
    CAN_WIDTH = "can width"
    CAN_LENGTH = "can length"
    LIFT = "lift"
    RULE = "rule"


class CheckState(StrEnum):
    """How a check ended."""

    HOLDS = "holds"
    WARNS = "holds, but barely"
    TOO_CLOSE = "too close to call"
    FAILS = "fails"
    NOT_MEASURED = "not measured"
    NOT_CHECKED = "not checked"
    NOT_APPLICABLE = "not applicable"

    @property
    def code(self) -> int:
        """The number that stands for the state in an array."""
        return tuple(CheckState).index(self)


#: With these a part still fits.
_HARMLESS: Final = tuple(
    state.code
    for state in (
        CheckState.HOLDS,
        CheckState.WARNS,
        CheckState.NOT_CHECKED,
        CheckState.NOT_APPLICABLE,
    )
)


def _exact() -> Floats:
    return np.zeros(1)


class Bored(StrEnum):
    """What is pushed on an axle or a shaft."""

    GEAR = "gear"
    PINION = "pinion"
    WHEELS = "wheels"


@dataclass(frozen=True, kw_only=True)
class ToMeasure:
    """
    What is missing where a check could not be made.

    The check says what it rests on; ``bored`` whose bore, and ``quantities`` what of
    the registry is missing, where that is not the same for all.
    """

    check: Check
    bored: Bored | None = None
    quantities: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class KindsOfGear:
    """Which kind a gear is and which the car needs; None is neither of the two."""

    found: GearRole | None
    needed: GearRole


@dataclass(frozen=True, kw_only=True)
class TwoPitches:
    """
    The pitches of two gears that do not run together, as modules, mm.

    ``this`` is what is asked about, a pinion or a gear, ``other`` the one on the car;
    each with the name of the usual pitch that it is, empty where it is none.
    """

    this: tuple[float, str]
    other: tuple[float, str]
    is_pinion: bool


@dataclass(frozen=True, kw_only=True)
class CoarseBore:
    """
    A bore, or its shaft, that was read too coarsely for its fit: only its size is told.

    ``lower`` and ``upper`` are what the fit asks of it, mm.
    """

    lower: float
    upper: float


Detail = KindsOfGear | TwoPitches | CoarseBore


@dataclass(frozen=True, kw_only=True, eq=False)
class CheckColumn:
    """
    One check of all rows; arrays of one row count for all.

    ``lower`` and ``upper`` are limits, themselves allowed, NaN for none;
    ``applies`` where there is something to check; ``warn_below`` a value under
    which a check that holds is pointed out; ``checked`` false where the figure is
    given and nothing follows from it; ``bored`` and ``lacking`` go into what is to be
    measured where the value is not known; ``detail`` gives what figures cannot say of
    a row; ``rule`` is the place of a rulebook's rule, ``quantity`` what it speaks of.
    ``u`` is the value's standard uncertainty: nearer to a limit than its guard band,
    a check is too close to call.
    """

    check: Check
    value: Floats
    lower: Floats
    upper: Floats
    applies: Bools
    checked: Bools
    unit: str = "mm"
    warn_below: float = -np.inf
    bored: Bored | None = None
    lacking: tuple[str, ...] = ()
    rule: int | None = None
    quantity: str = ""
    u: Floats = field(default_factory=_exact)
    detail: Callable[[int], Detail | None] | None = None

    @property
    def to_measure(self) -> ToMeasure:
        """What is missing where the value is not known."""
        named = (self.quantity,) if self.quantity else self.lacking
        return ToMeasure(check=self.check, bored=self.bored, quantities=named)

    @cached_property
    def margin(self) -> Floats:
        """Distance to the nearer limit, positive inside; NaN where not known."""
        value = np.round(self.value, DECIMALS)
        below = value - np.round(self.lower, DECIMALS)
        above = np.round(self.upper, DECIMALS) - value
        nearer = np.round(np.fmin(below, above), DECIMALS)
        # Without any limit a known value has all the room there is.
        free = np.isnan(nearer) & ~np.isnan(value)
        return np.where(free, np.inf, nearer)

    @cached_property
    def state(self) -> Codes:
        """Codes of `CheckState`."""
        holds = np.where(
            self.value < self.warn_below, CheckState.WARNS.code, CheckState.HOLDS.code
        )
        state = np.where(self.margin >= 0.0, holds, CheckState.FAILS.code)
        close = abs(self.margin) < GUARD * self.u
        state = np.where(close, CheckState.TOO_CLOSE.code, state)
        state = np.where(np.isnan(self.margin), CheckState.NOT_MEASURED.code, state)
        state = np.where(self.checked, state, CheckState.NOT_CHECKED.code)
        state = np.where(self.applies, state, CheckState.NOT_APPLICABLE.code)
        return state.astype(np.int8)


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One check of one part on one car."""

    check: Check
    state: CheckState
    value: float
    lower: float
    upper: float
    margin: float
    unit: str
    to_measure: ToMeasure
    rule: int | None = None
    quantity: str = ""
    u: float = 0.0
    detail: Detail | None = None

    @property
    def limit(self) -> float:
        """The limit that the margin is to."""
        if np.isnan(self.lower) or self.upper - self.value < self.value - self.lower:
            return self.upper
        return self.lower


@dataclass(frozen=True, kw_only=True, eq=False)
class CheckTable:
    """
    All checks of all rows.

    ``value``, ``lower``, ``upper`` and ``margin`` are ``(rows, checks)``, NaN where
    there is none; ``state`` holds codes of `CheckState`; ``fits`` is ``(rows,)``.
    """

    columns: tuple[CheckColumn, ...]
    row_count: int

    @property
    def checks(self) -> tuple[Check, ...]:
        """The check of each column."""
        return tuple(column.check for column in self.columns)

    @cached_property
    def value(self) -> Floats:
        """What was compared."""
        return self._table([column.value for column in self.columns])

    @cached_property
    def lower(self) -> Floats:
        """Least that holds."""
        return self._table([column.lower for column in self.columns])

    @cached_property
    def upper(self) -> Floats:
        """Most that holds."""
        return self._table([column.upper for column in self.columns])

    @cached_property
    def margin(self) -> Floats:
        """Distance to the nearer limit."""
        return self._table([column.margin for column in self.columns])

    @cached_property
    def state(self) -> Codes:
        """Codes of `CheckState`."""
        return self._table([column.state for column in self.columns]).astype(np.int8)

    @cached_property
    def fits(self) -> Bools:
        """Whether every check holds; one that was not measured does not."""
        fits = np.ones(self.row_count, dtype=np.bool_)
        for column in self.columns:
            fits &= np.isin(column.state, _HARMLESS)
        return fits

    @property
    def to_measure(self) -> tuple[ToMeasure, ...]:
        """What is missing in any row, each once, in the order of the checks."""
        missing = CheckState.NOT_MEASURED.code
        return tuple(
            dict.fromkeys(
                column.to_measure
                for column in self.columns
                if (column.state == missing).any()
            )
        )

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Give one row's checks.

        Parameters
        ----------
        row : int
            Which part, or car.

        Returns
        -------
        tuple of CheckRow
            Those that apply.

        Raises
        ------
        NoSuchRowError
            If there is no such row.
        """
        if not 0 <= row < self.row_count:
            msg = f"Row {row}: there are {self.row_count}."
            raise NoSuchRowError(msg)
        checks = [_row(column, row) for column in self.columns]
        return tuple(one for one in checks if one.state != CheckState.NOT_APPLICABLE)

    def _table(self, arrays: list[NDArray[np.generic]]) -> Floats:
        shape = (self.row_count,)
        table = np.empty((len(arrays), *shape))
        for line, array in zip(table, arrays, strict=True):
            line[:] = array
        return table.T


def _row(column: CheckColumn, row: int) -> CheckRow:
    def at(array: NDArray[np.generic]) -> float:
        return float(array[row if len(array) > 1 else 0])

    return CheckRow(
        check=column.check,
        state=tuple(CheckState)[int(at(column.state))],
        value=at(column.value),
        lower=at(column.lower),
        upper=at(column.upper),
        margin=at(column.margin),
        unit=column.unit,
        rule=column.rule,
        quantity=column.quantity,
        to_measure=column.to_measure,
        u=at(column.u),
        detail=column.detail(row) if column.detail else None,
    )
