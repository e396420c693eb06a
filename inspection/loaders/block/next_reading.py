"""Which one more reading would settle a car on the block."""

from dataclasses import dataclass, replace
from math import inf
from typing import Final

import numpy as np

from inspection.compute.asking import LEAST_CHANCE, Unsettled, next_reading
from inspection.compute.judging import Outcome, margins
from inspection.compute.quantities import Kind, Source
from inspection.loaders.block.estimates import gauge_on
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.rulebooks.editions import rules_as_arrays
from inspection.models import SheetReading
from inventory.compute.measuring import estimate_round
from inventory.compute.numbers import from_millionths

_STEP: Final = 1e-3
_IN_DOUBT: Final = (Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL)


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """
    What to read next of a car in doubt, and what for.

    ``label`` is empty where no reading of these gauges would settle it.  The chances
    are of 100: that the next one does, and that endless ones would.
    """

    label: str
    column: str
    chance: int
    ever: int
    rules: tuple[str, ...]

    @property
    def is_likely(self) -> bool:
        """Whether one reading alone may do it."""
        return self.chance >= round(100 * LEAST_CHANCE)


def next_step_of(loaded: LoadedSheet) -> NextStep | None:
    """
    Say which reading would settle a car; nothing of one that is settled or unread.

    A car is settled where each rule is a pass beyond doubt, or one a fail.  Dear work,
    done only of a car that was read and that some rule is in doubt of.
    """
    if loaded.sheet.is_sealed or loaded.unread or loaded.conflicts:
        return None
    rules = [one for one in loaded.findings if one.rule.is_mandatory]
    outcomes = {one.outcome for one in rules}
    if outcomes & {Outcome.FAIL, Outcome.NOT_MEASURED}:
        return None
    judged = [one for one in rules if _is_number(one)]
    doubtful = [one for one in judged if one.outcome in _IN_DOUBT]
    columns = _readable(doubtful)
    if not doubtful:
        return None
    readings = {one.pk: one for one in loaded.readings}
    spare = [_variances(one, readings) for one in columns]
    choice = next_reading(
        Unsettled(
            above=np.array([one.margin or 0.0 for one in judged]),
            below=np.array([_to_other_limit(one) for one in judged]),
            u=np.array([one.u_value or 0.0 for one in judged]),
            factor=np.array(
                [(one.guard_band or 0.0) / (one.u_value or 1.0) for one in judged]
            ),
            slope=_slopes(loaded, judged, columns),
            gain=np.array([gain for gain, _ in spare]),
            most=np.array([most for _, most in spare]),
        )
    )
    chosen = None if choice.column is None else columns[choice.column]
    return NextStep(
        label=chosen.label if chosen else "",
        column=chosen.column if chosen else "",
        chance=round(100 * choice.chance),
        ever=round(100 * choice.ever),
        rules=tuple(one.rule.number for one in doubtful),
    )


def _is_number(finding: RuleFinding) -> bool:
    """Whether a value with a doubt was judged: no slip, no look, no count."""
    return (
        bool(finding.u_value)
        and finding.margin is not None
        and finding.went_under is None
        and finding.half_width is None
    )


def _to_other_limit(finding: RuleFinding) -> float:
    if finding.lower is None or finding.upper is None:
        return inf
    return finding.upper - finding.lower - (finding.margin or 0.0)


def _readable(doubtful: list[RuleFinding]) -> list[ColumnValue]:
    """Give what was read tonight, as a number, of what the doubtful rules rest on."""
    kinds = {Kind.MEASURED, Kind.TAKEN_OR_DERIVED}
    every = {
        value.column: value
        for finding in doubtful
        for value in finding.rests_on
        if value.source is Source.TAKEN
        and value.went_under is None
        and not value.between_slips
        and value.quantity.kind in kinds
    }
    return list(every.values())


def _variances(
    value: ColumnValue, readings: dict[int, SheetReading]
) -> tuple[float, float]:
    """Give what one more reading takes off a column's variance, and endless ones."""
    rows = [readings[pk] for pk in value.reading_ids if pk in readings]
    gauge = gauge_on(rows[-1].gauge_mode if rows else None, value.quantity)
    own = max(value.random**2 - gauge.resolution**2 / 12, 0.0)
    if not value.quantity.is_round:
        return own / (len(rows) + 1), own
    read = [from_millionths(row.value or 0) for row in rows]
    before, after = (
        estimate_round(some, gauge).random for some in (read, [*read, value.value])
    )
    # Whose own scatter counts has it in ``random`` already; the share is the same.
    return max(1 - (after / before) ** 2, 0.0) * own, own


def _slopes(
    loaded: LoadedSheet, judged: list[RuleFinding], columns: list[ColumnValue]
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Move each column a little up and down, and see by how much the margins change."""
    field = loaded.field
    rows = 2 * len(columns)
    value = np.repeat(field.value, rows, axis=0)
    for place, one in enumerate(columns):
        at = field.position(one.column)
        if at is not None:
            value[2 * place, at] += _STEP
            value[2 * place + 1, at] -= _STEP
    moved = replace(field.take(np.zeros(rows, dtype=np.intp)), value=value)
    arrays = rules_as_arrays(
        loaded.edition,
        tuple(one.rule for one in judged),
        stage=loaded.sheet.stage,
        columns=field.columns,
        applies=np.ones((rows, len(judged)), dtype=np.bool_),
    )
    moved_margins = margins(arrays, moved) if rows else np.zeros((0, len(judged)))
    slopes: np.ndarray[tuple[int, int], np.dtype[np.float64]] = np.nan_to_num(
        (moved_margins[::2] - moved_margins[1::2]).T / (2 * _STEP)
    )
    return slopes
