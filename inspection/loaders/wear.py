"""How long a car stays legal: the rule that breaks first, and its tyres' own past."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, TypeAlias

from inspection.compute.entries import EntryState, PartPosition, ReadingKind
from inspection.compute.legality import TyresNotMeasuredError
from inspection.compute.requirements import Stage
from inspection.compute.rules import Field, Rules
from inspection.compute.wear import WearLimit, wear_limit
from inspection.compute.wear_history import WornTyres, wear_per_night_mm
from inspection.loaders.fit_cars import CarNow, rulebook_of
from inspection.loaders.rulebooks import LoadedRule
from inspection.loaders.sheets import LoadedSheet
from inspection.models import Car, Entry, SheetPart, SheetReading
from inventory.compute.stock import PartQuantity
from inventory.models import PartEstimate

#: A tyre by its part; one that is no part of the inventory, by its place.
Tyre: TypeAlias = int | str
Point: TypeAlias = tuple[dt.datetime, float]

_MILLION: Final = 1_000_000
_PLACES: Final[Mapping[str, PartPosition]] = {
    "tyre_diameter_rear_left": PartPosition.REAR_LEFT,
    "tyre_diameter_rear_right": PartPosition.REAR_RIGHT,
}


@dataclass(frozen=True, kw_only=True)
class TyreReading:
    """One tyre, measured once."""

    tyre: Tyre
    side: PartPosition
    at: dt.datetime
    diameter_mm: float
    races: int


@dataclass(frozen=True, kw_only=True)
class Wear:
    """How far a car's rear tyres may still wear."""

    limit: WearLimit
    rules: tuple[LoadedRule, ...]
    per_night_mm: float | None
    readings: tuple[TyreReading, ...] = ()

    @property
    def rule(self) -> LoadedRule | None:
        """The rule that breaks first."""
        return None if self.limit.rule is None else self.rules[self.limit.rule]

    @property
    def is_broken(self) -> bool:
        """Whether a rule is broken as the car is."""
        return self.limit.wear <= 0.0 and self.limit.rule is not None

    @property
    def has_left(self) -> bool:
        """Whether there is wear left until a rule breaks."""
        return math.isfinite(self.limit.wear) and not self.is_broken

    @property
    def nights(self) -> int | None:
        """Whole nights that are left, by this car's own wear."""
        nights = self.limit.nights
        return math.floor(nights + 1e-9) if math.isfinite(nights) else None

    @property
    def not_judged(self) -> tuple[LoadedRule, ...]:
        """Mandatory rules on which nothing is known."""
        return tuple(self.rules[place] for place in self.limit.not_judged)

    @cached_property
    def lines(self) -> Mapping[PartPosition, list[Point]]:
        """The diameters over time, a line for each side."""
        found: dict[PartPosition, list[Point]] = {side: [] for side in _PLACES.values()}
        for one in self.readings:
            found[one.side].append((one.at, one.diameter_mm))
        return found


def wear_of_car(car: CarNow) -> Wear | None:
    """Say how long a car stays legal; nothing while its tyres are not measured."""
    readings = tyre_readings(car.car)
    return _wear(car.rulebook, car.field, car.rules, readings)


def wear_of_sheet(loaded: LoadedSheet) -> Wear | None:
    """Say how long the car of a sheet stays legal from then on."""
    stage = Stage(loaded.sheet.stage)
    rulebook = rulebook_of(loaded.edition, loaded.rules, loaded.field, stage=stage)
    readings = tyre_readings(loaded.sheet.entry.car)
    return _wear(rulebook, loaded.field, loaded.rules, readings)


def _wear(
    rulebook: Rules,
    field: Field,
    rules: tuple[LoadedRule, ...],
    readings: Sequence[TyreReading],
) -> Wear | None:
    per_night = wear_per_night_mm(_by_tyre(readings))
    try:
        limit = wear_limit(rulebook, field, wear_per_night_mm=per_night)
    except TyresNotMeasuredError:
        return None
    return Wear(
        limit=limit, rules=rules, per_night_mm=per_night, readings=tuple(readings)
    )


def _by_tyre(readings: Iterable[TyreReading]) -> list[list[WornTyres]]:
    found: dict[Tyre, list[WornTyres]] = defaultdict(list)
    for one in readings:
        found[one.tyre].append(WornTyres(races=one.races, diameter_mm=one.diameter_mm))
    return list(found.values())


def tyre_readings(car: Car) -> list[TyreReading]:
    """
    Give every measurement of the rear tyres that a car wore, the oldest first.

    On sealed sheets, and of the same tyres at the bench in between; in four queries.
    """
    nights, tyres = _nights(car), _tyres_of_sheets(car)
    on_sheets = _on_sheets(car, tyres, nights)
    first: dict[Tyre, dt.datetime] = {}
    for one in on_sheets:
        first.setdefault(one.tyre, one.at)
    # Before a tyre came on to this car, its races were not this car's.
    bench = [
        one
        for one in _at_the_bench(tyres, nights)
        if one.tyre in first and one.at > first[one.tyre]
    ]
    return sorted([*on_sheets, *bench], key=lambda one: one.at)


def _on_sheets(
    car: Car,
    tyres: Mapping[tuple[int, PartPosition], int],
    nights: Mapping[int, dt.datetime | None],
) -> list[TyreReading]:
    rows = SheetReading.objects.filter(
        sheet__entry__car=car,
        sheet__seal__isnull=False,
        column__in=_PLACES,
        kind=ReadingKind.VALUE,
        carried_from=None,
        strike=None,
    ).order_by("taken_at", "id")
    said = ("sheet", "column", "value", "taken_at")
    found = rows.values_list(*said, "sheet__stage", "sheet__entry__night")
    return [
        TyreReading(
            tyre=tyres.get((sheet, _PLACES[column]), column),
            side=_PLACES[column],
            at=at,
            diameter_mm=(value or 0) / _MILLION,
            races=_races_by(nights, night, stage),
        )
        for sheet, column, value, at, stage, night in found
    ]


def _nights(car: Car) -> dict[int, dt.datetime | None]:
    """Give the nights that a car raced on, in their order, and when each closed."""
    entries = Entry.objects.filter(car=car).exclude(state=EntryState.WITHDRAWN)
    rows = entries.order_by("night__date", "night").values_list(
        "night", "night__closed_at"
    )
    return dict(rows)


def _races_by(nights: Mapping[int, dt.datetime | None], night: int, stage: str) -> int:
    before = list(nights).index(night) if night in nights else len(nights)
    return before + (stage == Stage.AFTER)


def _tyres_of_sheets(car: Car) -> dict[tuple[int, PartPosition], int]:
    rows = SheetPart.objects.filter(
        sheet__entry__car=car, position__in=_PLACES.values()
    )
    return {
        (sheet, PartPosition(position)): part
        for sheet, position, part in rows.values_list("sheet", "position", "part")
    }


def _at_the_bench(
    tyres: Mapping[tuple[int, PartPosition], int],
    nights: Mapping[int, dt.datetime | None],
) -> list[TyreReading]:
    side = {part: position for (_, position), part in tyres.items()}
    estimates = PartEstimate.objects.filter(
        part__in=side, quantity=PartQuantity.TYRE_DIAMETER
    ).exclude(source__startswith="sheet ")
    return [
        TyreReading(
            tyre=part,
            side=side[part],
            at=at,
            diameter_mm=value / _MILLION,
            races=sum(1 for closed in nights.values() if closed and closed < at),
        )
        for part, at, value in estimates.values_list("part", "taken_at", "value")
    ]
