"""What of the stock fits a car: best first, with every check of what is looked at."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import Any, Final, TypeAlias

import numpy as np
from django.db.models import QuerySet
from numpy.typing import NDArray

from inspection.compute.fit import (
    Envelope,
    GearFit,
    MotorFit,
    TyreFit,
    best_first,
    gear_fit,
    motor_fit,
    pinion_fit,
    standings,
    tyre_fit,
)
from inspection.compute.what_if import (
    Gears,
    Motors,
    Pairs,
    Pinions,
    TyresNotMeasuredError,
    stacked,
)
from inspection.loaders.fit.check_lines import (
    Amiss,
    CheckLine,
    check_lines,
    what_is_amiss,
)
from inspection.loaders.fit.parts import (
    gauges_of_parts,
    gears_of,
    load_columns,
    motors_of,
    pinions_of,
)
from inspection.loaders.fit.tyre_pairs import load_pairs
from inspection.loaders.rulebooks.editions import LoadedRule
from inventory.compute.stock import GearRole, PartKind, PartState
from inventory.loaders.parts import FACT_TABLES
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


#: So many pairs of tyres are shown, each tyre once.
PAIRS_SHOWN: Final = 10
_STANDINGS: Final = tuple(Standing)


@dataclass(frozen=True, kw_only=True)
class FitLine:
    """A part, or a pair, against the car."""

    parts: tuple[Part, ...]
    standing: Standing
    ratio: float | None
    rollout_mm: float | None
    change_percent: float | None
    legal_to_mm: float | None
    is_never_worn_out: bool
    checks: tuple[CheckLine, ...]
    sizes_mm: tuple[float, ...] = ()
    outside_diameter_mm: float | None = None
    teeth: int | None = None

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
    def amiss(self) -> Amiss:
        """The checks that keep it from fitting: failed, unmeasured, close."""
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
    wanted_teeth: int | None = None

    @cached_property
    def fit(self) -> Fit:
        """Every check of every row."""
        return set_against(self.table, self.envelope)

    @cached_property
    def standing(self) -> NDArray[np.int8]:
        """Codes of `Standing`."""
        return standings(self.fit.table)

    @cached_property
    def order(self) -> Rows:
        """
        Rows: what fits, then what may, each by the least change of rollout.

        Of pairs of tyres the best few, no tyre in two of them.  Where teeth are
        wanted, those that have them come first, then the nearest.
        """
        order = best_first(self.fit, first_by=self._off_teeth)
        return order if self.kind is not FitKind.TYRES else _each_once(self.pks, order)

    @cached_property
    def _off_teeth(self) -> NDArray[np.float64]:
        """How many teeth each row is away from what is wanted."""
        if self.wanted_teeth is None or not isinstance(self.table, Gears | Pinions):
            return np.zeros(len(self.standing))
        return np.abs(self.table.teeth - self.wanted_teeth)

    @property
    def nearest_teeth(self) -> list[int]:
        """The counts of teeth in the drawers that are nearest to what is wanted."""
        if not isinstance(self.table, Gears | Pinions) or not len(self.table.teeth):
            return []
        away = self._off_teeth
        near = self.table.teeth[away == away.min()]
        return sorted({int(teeth) for teeth in near})

    def count(self, standing: Standing) -> int:
        """Say how many rows of the order stand so."""
        return int((self.standing[self.order] == _STANDINGS.index(standing)).sum())

    def __len__(self) -> int:
        return len(self.order)

    def of_first(self) -> "FitAnswer":
        """Give the answer of the first row alone: the gear in the hand."""
        first = np.zeros(1, dtype=np.int64)
        return replace(self, table=self.table.take(first), pks=self.pks[first])

    def lines(self, rows: Rows) -> tuple[FitLine, ...]:
        """Put some rows into words; one query for all their names."""
        part_by_key = Part.objects.select_related(*FACT_TABLES, "holder").in_bulk(
            [pk for pk in self.pks[rows].ravel().tolist() if pk >= 0]
        )
        table = self.table.take(rows)
        fit = set_against(table, self.envelope)
        return tuple(
            self._line(
                fit, table, at, [part_by_key[pk] for pk in pks if pk in part_by_key]
            )
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

        legal_to_mm = _legal_to(fit)[at]
        return FitLine(
            parts=tuple(parts),
            standing=_STANDINGS[int(standings(fit.table)[at])],
            ratio=figure("ratio"),
            rollout_mm=figure("rollout_mm"),
            change_percent=figure("rollout_change_percent"),
            legal_to_mm=_finite(legal_to_mm),
            is_never_worn_out=bool(np.isneginf(legal_to_mm)),
            checks=check_lines(fit.rows(at), self.rules),
            sizes_mm=tuple(_sizes(table, at)),
            outside_diameter_mm=(
                _diameter(fit, at) if self.kind is FitKind.GEAR else None
            ),
            teeth=_teeth(table, at),
        )


def fit_stock(
    kind: FitKind,
    parts: QuerySet[Part],
    envelope: Envelope,
    *,
    rules: tuple[LoadedRule, ...],
    in_hand: InHand | None = None,
    wanted_teeth: int | None = None,
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
    return FitAnswer(
        kind=kind,
        table=table,
        pks=pks,
        envelope=envelope,
        rules=rules,
        wanted_teeth=wanted_teeth,
    )


def _gears(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    # Only the kind of gear that the car's layout takes.
    role = GearRole.CROWN if bool(envelope.in_line[0]) else GearRole.SPUR
    columns = load_columns(
        parts.filter(gear__role=role), PartKind.GEAR, gauges=gauges_of_parts()
    )
    return gears_of(columns), columns.pk[:, None]


def _pinions(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    pinions = parts.filter(gear__role=GearRole.PINION)
    columns = load_columns(pinions, PartKind.GEAR, gauges=gauges_of_parts())
    return pinions_of(columns), columns.pk[:, None]


def _tyres(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    pairs = load_pairs(parts, gauges=gauges_of_parts())
    return pairs.table, np.column_stack([pairs.left, pairs.right])


def _motors(parts: QuerySet[Part], envelope: Envelope) -> tuple[PartTable, Rows]:
    columns = load_columns(parts, PartKind.MOTOR, gauges=gauges_of_parts())
    return motors_of(columns), columns.pk[:, None]


_LOADERS: Final[
    Mapping[FitKind, Callable[[QuerySet[Part], Envelope], tuple[Any, Rows]]]
] = {
    FitKind.GEAR: _gears,
    FitKind.PINION: _pinions,
    FitKind.TYRES: _tyres,
    FitKind.MOTOR: _motors,
}


def set_against(table: PartTable, envelope: Envelope) -> Fit:
    """Hold parts against one car, or one part against cars of one rulebook."""
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


def _teeth(table: PartTable, at: int) -> int | None:
    if not isinstance(table, Gears | Pinions) or np.isnan(table.teeth[at]):
        return None
    return int(table.teeth[at])


def _each_once(pks: Rows, order: Rows) -> Rows:
    """Keep the first pairs of an order, until enough, that share no tyre."""
    used: set[int] = set()
    kept: list[int] = []
    for row in order.tolist():
        pair = set(pks[row].tolist())
        if used.isdisjoint(pair):
            used |= pair
            kept.append(row)
        if len(kept) == PAIRS_SHOWN:
            break
    return np.array(kept, dtype=np.int64)


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


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
