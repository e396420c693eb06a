"""
The checks of a fit, as columns of numbers; their sentences only when asked for.

One row a part (or a car, for one part against many), one column a check.  A
hundred thousand parts are arrays; what a person reads is made for the row that
is looked at.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Codes = NDArray[np.int8]

#: Values and limits are compared in whole millionths of their unit.
DECIMALS: Final = 6


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


@dataclass(frozen=True, kw_only=True, eq=False)
class CheckColumn:
    """
    One check of all rows; arrays of one row count for all.

    ``lower`` and ``upper`` are limits, themselves allowed, NaN for none;
    ``applies`` where there is something to check; ``warn_below`` a value under
    which a check that holds is pointed out; ``checked`` false where the figure
    is given and nothing follows from it; ``measure`` names what is missing where
    the value is not known; ``note`` says what a figure cannot; ``subject`` what the
    figure is, where the check does not; ``rule`` is the place of a rulebook's rule.
    """

    check: Check
    value: Floats
    lower: Floats
    upper: Floats
    applies: Bools
    checked: Bools
    unit: str = "mm"
    warn_below: float = -np.inf
    measure: str = ""
    note: str = ""
    subject: str = ""
    rule: int | None = None

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
        state = np.where(np.isnan(self.margin), CheckState.NOT_MEASURED.code, state)
        state = np.where(self.checked, state, CheckState.NOT_CHECKED.code)
        state = np.where(self.applies, state, CheckState.NOT_APPLICABLE.code)
        return state.astype(np.int8)


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One check of one part on one car, in figures and in words."""

    check: Check
    state: CheckState
    value: float
    lower: float
    upper: float
    margin: float
    unit: str
    sentence: str
    rule: int | None = None

    @property
    def limit(self) -> float:
        """The limit that the margin is to."""
        if np.isnan(self.lower) or self.upper - self.value < self.value - self.lower:
            return self.upper
        return self.lower


#: What a check's figure is; limits and margin follow it.
_SUBJECTS: Final = {
    Check.KIND: "The gear's kind",
    Check.BORE: "Bore over shaft",
    Check.PITCH: "Modules apart",
    Check.CROWN_CUT: "Teeth of the pinion that the crown is cut for",
    Check.TEETH: "Teeth of the gear",
    Check.RATIO: "Ratio",
    Check.ROLLOUT: "Rollout",
    Check.DIAMETER: "Outside diameter",
    Check.GROUND: "Clearance over the track",
    Check.CHASSIS_BAR: "Gap to the chassis bar",
    Check.ROOM: "Hub width on the axle",
    Check.MESH: "Backlash at the best distance in the slot",
    Check.CONTACT: "Contact ratio there",
    Check.CROWN_SEAT: "Room left beside crown, hub and spacers",
    Check.CROWN_FACE: "Share of the teeth that the pinion covers",
    Check.SHAFT_END: "Gap from the shaft's end to the axle",
    Check.MOTOR_AXLE_OFFSET: "Axle over the shaft, less the gear's own offset",
    Check.PINION_LENGTH: "Length of the pinion on the shaft",
    Check.TYRE_WIDTH: "Tyre width",
    Check.CAN_HEIGHT: "Can height",
    Check.CAN_WIDTH: "Can width",
    Check.CAN_LENGTH: "Can length",
    Check.LIFT: "Lift that brings the shaft to the axle",
}


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
    def to_measure(self) -> tuple[str, ...]:
        """What is missing in any row, each once, in the order of the checks."""
        missing = CheckState.NOT_MEASURED.code
        return tuple(
            dict.fromkeys(
                column.measure
                for column in self.columns
                if (column.state == missing).any()
            )
        )

    def rows(self, row: int) -> tuple[CheckRow, ...]:
        """
        Put one row's checks into words.

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
        found = [_row(column, row) for column in self.columns]
        return tuple(one for one in found if one.state != CheckState.NOT_APPLICABLE)

    def _table(self, arrays: list[NDArray[np.generic]]) -> Floats:
        shape = (self.row_count,)
        table = np.empty((len(arrays), *shape))
        for line, array in zip(table, arrays, strict=True):
            line[:] = array
        return table.T


def _row(column: CheckColumn, row: int) -> CheckRow:
    def at(array: NDArray[np.generic]) -> float:
        return float(array[row if len(array) > 1 else 0])

    found = CheckRow(
        check=column.check,
        state=tuple(CheckState)[int(at(column.state))],
        value=at(column.value),
        lower=at(column.lower),
        upper=at(column.upper),
        margin=at(column.margin),
        unit=column.unit,
        sentence="",
        rule=column.rule,
    )
    return replace(found, sentence=_sentence(found, column))


def _sentence(row: CheckRow, column: CheckColumn) -> str:
    subject = column.subject or _SUBJECTS[row.check]
    if row.state is CheckState.NOT_MEASURED:
        return f"{subject} is not known: measure {column.measure}."
    if row.check is Check.KIND:
        right = "right" if row.state is CheckState.HOLDS else "wrong"
        return f"{column.note}; this one is {right}."
    figure = f"{subject}: {_figure(row.value, row.unit)}, {_limits(row)}"
    return f"{figure}; {_ending(row, column)}."


def _ending(row: CheckRow, column: CheckColumn) -> str:
    if row.state is CheckState.NOT_CHECKED:
        return column.note
    if row.state is CheckState.WARNS:
        return CheckState.WARNS
    if row.state is CheckState.FAILS:
        return f"misses by {_figure(-row.margin, row.unit)}"
    if np.isinf(row.margin):
        return column.note or CheckState.HOLDS
    return f"holds by {_figure(row.margin, row.unit)}"


def _figure(value: float, unit: str) -> str:
    if unit == "teeth":
        return f"{value:g} teeth"
    return f"{value:.2f} {unit}".rstrip()


def _limits(row: CheckRow) -> str:
    low, high = row.lower, row.upper
    if not np.isfinite([low, high]).any():
        return "no limit"
    if not np.isfinite(low):
        return f"at most {_figure(high, row.unit)}"
    if not np.isfinite(high):
        return f"at least {_figure(low, row.unit)}"
    if round(high - low, DECIMALS) <= 0.0:
        return f"exactly {_figure(low, row.unit)} wanted"
    return f"{_figure(low, '')} to {_figure(high, row.unit)} wanted"
