"""What of the stock fits a car: best first, with every check of what is looked at."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Any, Final, TypeAlias

import numpy as np
from django.db.models import QuerySet
from numpy.typing import NDArray

from inspection.compute.fit import (
    Check,
    CheckRow,
    CheckState,
    CheckTable,
    Envelope,
    GearFit,
    Gears,
    MotorFit,
    Motors,
    Pairs,
    Pinions,
    TyreFit,
    gear_fit,
    motor_fit,
    pinion_fit,
    tyre_fit,
)
from inspection.compute.legality import TyresNotMeasuredError
from inspection.compute.part_tables import stacked
from inspection.loaders.fit_pairs import load_pairs
from inspection.loaders.fit_parts import (
    gears_of,
    load_columns,
    motors_of,
    pinions_of,
)
from inspection.loaders.rulebooks import LoadedRule
from inventory.compute.stock import GearRole, PartKind, PartState
from inventory.models import Part

Fit: TypeAlias = GearFit | TyreFit | MotorFit
PartTable: TypeAlias = Gears | Pinions | Pairs | Motors
InHand: TypeAlias = Gears | Pinions
Rows: TypeAlias = NDArray[np.int64]


class FitKind(StrEnum):
    """What is looked for."""

    GEAR = "gear"
    PINION = "pinion"
    TYRES = "tyres"
    MOTOR = "motor"


class Standing(StrEnum):
    """Whether a part fits, as far as is known."""

    FITS = "fits"
    NOT_KNOWN = "not known"
    DOES_NOT = "does not fit"

    @property
    def mark(self) -> str:
        """The mark that is drawn beside it."""
        return {"fits": "yes", "not known": "question"}.get(self, "no")


_STANDINGS: Final = tuple(Standing)
_MARKS: Final[Mapping[CheckState, str]] = {
    CheckState.HOLDS: "yes",
    CheckState.WARNS: "caution",
    CheckState.FAILS: "no",
    CheckState.NOT_CHECKED: "caution",
    CheckState.NOT_MEASURED: "not measured",
}
#: These keep a part from fitting, the worse one first.
_AMISS: Final = (CheckState.FAILS, CheckState.NOT_MEASURED)


@dataclass(frozen=True, kw_only=True)
class CheckLine:
    """One check as a page shows it."""

    row: CheckRow
    rule: LoadedRule | None

    @property
    def mark(self) -> str:
        """The mark that is drawn beside it."""
        return _MARKS[self.row.state]

    @property
    def places(self) -> int:
        """Decimal places of its figures."""
        return 0 if self.row.unit == "teeth" else 2

    @property
    def has_figure(self) -> bool:
        """Whether its value says more than its sentence does."""
        return self.row.check is not Check.KIND


@dataclass(frozen=True, kw_only=True)
class FitLine:
    """A part, or a pair, against the car."""

    parts: tuple[Part, ...]
    standing: Standing
    ratio: float | None
    rollout_mm: float | None
    change_percent: float | None
    legal_to_mm: float | None
    checks: tuple[CheckLine, ...]
    sizes_mm: tuple[float, ...] = ()
    outside_diameter_mm: float | None = None

    @property
    def tags(self) -> str:
        """Names it in an address; nothing for a gear in the hand."""
        return "+".join(part.tag for part in self.parts)

    @property
    def may_be_reserved(self) -> bool:
        """Whether it fits and all of it lies in stock."""
        free = [part.state == PartState.IN_STOCK for part in self.parts]
        return self.standing is Standing.FITS and bool(free) and all(free)

    @property
    def amiss(self) -> tuple[CheckLine, ...]:
        """The checks that keep it from fitting, those that fail first."""
        return what_is_amiss(self.checks)


@dataclass(frozen=True, kw_only=True, eq=False)
class FitAnswer:
    """
    Parts against one car, in the order of how well they suit it.

    ``pks`` are the parts of each row, one or two; a gear in the hand has -1.
    """

    kind: FitKind
    table: PartTable
    pks: Rows
    envelope: Envelope
    rules: tuple[LoadedRule, ...]

    @cached_property
    def fit(self) -> Fit:
        """Every check of every row."""
        return _set_against(self.table, self.envelope)

    @cached_property
    def standing(self) -> NDArray[np.int8]:
        """Codes of `Standing`."""
        return standings(self.fit.table)

    @cached_property
    def order(self) -> Rows:
        """Rows: what fits, then what may, each by the least change of rollout."""
        change = np.zeros(len(self.standing))
        if not isinstance(self.fit, MotorFit):
            change = np.abs(self.fit.rollout_change_percent)
        # Last by the row, so that equal ones keep their order.
        return np.lexsort((np.where(np.isnan(change), np.inf, change), self.standing))

    def count(self, standing: Standing) -> int:
        """Say how many rows stand so."""
        return int((self.standing == _STANDINGS.index(standing)).sum())

    def __len__(self) -> int:
        return len(self.standing)

    def lines(self, rows: Rows) -> tuple[FitLine, ...]:
        """Put some rows into words; one query for all their names."""
        found = Part.objects.select_related("tyre", "gear", "motor", "holder").in_bulk(
            [pk for pk in self.pks[rows].ravel().tolist() if pk >= 0]
        )
        table = self.table.take(rows)
        fit = _set_against(table, self.envelope)
        return tuple(
            self._line(fit, table, at, [found[pk] for pk in pks if pk in found])
            for at, pks in enumerate(self.pks[rows].tolist())
        )

    def row_of(self, tags: str) -> Rows:
        """Find the row of some tags; none where they are not among the parts."""
        wanted = [tag for tag in tags.split("+") if tag]
        pks = dict(Part.objects.filter(tag__in=wanted).values_list("tag", "pk"))
        if len(pks) != self.pks.shape[1]:
            return np.empty(0, dtype=np.int64)
        row = [pks[tag] for tag in wanted]
        return np.flatnonzero((self.pks == row).all(axis=1))[:1]

    def _line(self, fit: Fit, table: PartTable, at: int, parts: list[Part]) -> FitLine:
        def figure(name: str) -> float | None:
            column = getattr(fit, name, None)
            return None if column is None else _known(column[at])

        return FitLine(
            parts=tuple(parts),
            standing=_STANDINGS[int(standings(fit.table)[at])],
            ratio=figure("ratio"),
            rollout_mm=figure("rollout_mm"),
            change_percent=figure("rollout_change_percent"),
            legal_to_mm=_known(_legal_to(fit)[at]),
            checks=check_lines(fit.rows(at), self.rules),
            sizes_mm=tuple(_sizes(table, at)),
            outside_diameter_mm=(
                _diameter(fit, at) if self.kind is FitKind.GEAR else None
            ),
        )


def what_is_amiss(checks: Sequence[CheckLine]) -> tuple[CheckLine, ...]:
    """Give the checks that keep a part from fitting, those that fail first."""
    return tuple(one for state in _AMISS for one in checks if one.row.state is state)


def standings(table: CheckTable) -> NDArray[np.int8]:
    """Tell how each row stands: one check that fails is enough."""
    fails = np.zeros(table.row_count, dtype=np.bool_)
    for column in table.columns:
        fails |= column.state == CheckState.FAILS.code
    return np.where(table.fits, 0, np.where(fails, 2, 1)).astype(np.int8)


def check_lines(
    rows: Sequence[CheckRow], rules: tuple[LoadedRule, ...]
) -> tuple[CheckLine, ...]:
    """Give checks with their rules; what has room without end is left out."""
    return tuple(
        # A typed car has a limit and no rulebook that it is from.
        CheckLine(
            row=row, rule=rules[row.rule] if rules and row.rule is not None else None
        )
        for row in rows
        if not np.isinf(row.value)
    )


def fit_stock(
    kind: FitKind,
    parts: QuerySet[Part],
    envelope: Envelope,
    *,
    rules: tuple[LoadedRule, ...],
    in_hand: InHand | None = None,
) -> FitAnswer:
    """
    Set all parts of a kind against a car, in one query or two.

    A gear in the hand is of the kind that is looked for, and comes first.
    """
    load = _LOADERS[kind]
    table, pks = load(parts, envelope)
    if in_hand is not None:
        table = stacked([in_hand, table]) if len(pks) else in_hand
        pks = np.concatenate([np.full((1, 1), -1), pks])
    return FitAnswer(kind=kind, table=table, pks=pks, envelope=envelope, rules=rules)


def _gears(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    # Only the kind of gear that the car's layout takes.
    role = GearRole.CROWN if bool(envelope.in_line[0]) else GearRole.SPUR
    columns = load_columns(parts.filter(gear__role=role), PartKind.GEAR)
    return gears_of(columns), columns.pk[:, None]


def _pinions(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    pinions = parts.filter(gear__role=GearRole.PINION)
    columns = load_columns(pinions, PartKind.GEAR)
    return pinions_of(columns), columns.pk[:, None]


def _tyres(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    pairs = load_pairs(parts)
    return pairs.table, np.column_stack([pairs.left, pairs.right])


def _motors(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    columns = load_columns(parts, PartKind.MOTOR)
    return motors_of(columns), columns.pk[:, None]


_LOADERS: Final[
    Mapping[FitKind, Callable[[QuerySet[Part], Envelope], tuple[Any, Rows]]]
] = {
    FitKind.GEAR: _gears,
    FitKind.PINION: _pinions,
    FitKind.TYRES: _tyres,
    FitKind.MOTOR: _motors,
}


def _set_against(table: PartTable, envelope: Envelope) -> Fit:
    match table:
        case Gears():
            return gear_fit(table, envelope)
        case Pinions():
            return pinion_fit(table, envelope)
        case Pairs():
            return tyre_fit(table, envelope)
        case Motors():
            return motor_fit(table, envelope)


def _sizes(table: PartTable, at: int) -> Iterator[float]:
    """Give the sizes by which a person tells parts of a kind apart, mm."""
    columns: tuple[NDArray[np.float64], ...]
    match table:
        case Gears():
            columns = (table.outside_diameter_mm,)
        case Pinions():
            columns = (table.bore_mm,)
        case Pairs():
            columns = (table.left_diameter_mm, table.right_diameter_mm)
        case Motors():
            columns = (table.can_height_mm, table.can_width_mm, table.can_length_mm)
    yield from (float(column[at]) for column in columns if not np.isnan(column[at]))


def _legal_to(fit: Fit) -> NDArray[np.float64]:
    unknown = np.full(fit.table.row_count, np.nan)
    if not isinstance(fit, GearFit):
        return unknown
    try:
        return fit.legal_to_mm
    except TyresNotMeasuredError:
        return unknown


def _diameter(fit: Fit, at: int) -> float | None:
    if not isinstance(fit, GearFit):
        return None
    return _known(fit.drive.gear.outside_diameter_mm[at])


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
