"""How long a car stays legal: the rule that breaks first, and its tyres' own past."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, TypeAlias

import numpy as np
from django.db.models import Avg, Max
from django.utils import timezone

from inspection.compute.history import NightsLeft, RacedTyre, nights_left
from inspection.compute.judging import Rules, evaluate
from inspection.compute.night import EntryState, PartPosition, ReadingKind
from inspection.compute.quantities import QUANTITIES
from inspection.compute.rulebooks import Stage
from inspection.compute.stance import Field
from inspection.compute.what_if import TyresNotMeasuredError, WearLimit, wear_limit
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.fit.cars import CarNow, rulebook_of
from inspection.loaders.history.same_compound import REAR_TYRES, tyres_of_compound
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.models import Car, Entry, SheetPart, SheetReading
from inventory.compute.numbers import from_millionths
from inventory.compute.stock import PartQuantity
from inventory.models import PartEstimate

#: A tyre by its part; one that is no part of the inventory, by its place.
Tyre: TypeAlias = int | str
Point: TypeAlias = tuple[dt.datetime, float]

#: So many nights back a car's tyres are followed.
LAST_NIGHTS: Final = 30
#: A car races in so many classes of one night at most.
_CLASSES_A_NIGHT: Final = 4
_PLACES: Final[Mapping[str, PartPosition]] = REAR_TYRES


@dataclass(frozen=True, kw_only=True)
class TyreReading:
    """One tyre, measured once."""

    tyre: Tyre
    side: PartPosition
    at: dt.datetime
    diameter_mm: float
    races: int
    #: On which night it was read; none at the bench.
    night: int | None = None


@dataclass(frozen=True, kw_only=True)
class _Entry:
    pk: int
    night: int
    closed_at: dt.datetime | None
    raced: bool


@dataclass(frozen=True, kw_only=True)
class Broken:
    """What a rule found that is broken already, and its limits; NaN where none."""

    value: float
    lower: float
    upper: float
    #: Whether the decision rule admits it all the same, within its doubt.
    is_admitted: bool


@dataclass(frozen=True, kw_only=True)
class TyreWear:
    """How far a car's rear tyres may still wear."""

    limit: WearLimit
    rules: tuple[LoadedRule, ...]
    left: NightsLeft | None
    readings: tuple[TyreReading, ...] = ()
    broken: Broken | None = None

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
    def nights(self) -> tuple[int, int] | None:
        """Whole nights that are left, from and to; none where not yet known."""
        if self.left is None or not self.left.is_known:
            return None
        return math.floor(self.left.low), math.ceil(self.left.high)

    @property
    def not_judged(self) -> tuple[LoadedRule, ...]:
        """Mandatory rules on which nothing is known."""
        return tuple(self.rules[place] for place in self.limit.not_judged)

    @cached_property
    def lines(self) -> Mapping[PartPosition, list[Point]]:
        """The diameters over time, a line for each side, the last of each night."""
        points_by_side: dict[PartPosition, dict[object, Point]] = {
            side: {} for side in _PLACES.values()
        }
        for one in self.readings:
            key = one.at if one.night is None else (one.night, one.tyre)
            points_by_side[one.side].pop(key, None)
            points_by_side[one.side][key] = one.at, one.diameter_mm
        return {side: list(points.values()) for side, points in points_by_side.items()}


def wear_of_car(car: CarNow) -> TyreWear | None:
    """Say how long a car stays legal; nothing while its tyres are not measured."""
    readings = tyre_readings(car.car)
    worn: dict[PartPosition, Tyre] = {
        side: car.fitted[side][0]["pk"] if side in car.fitted else column
        for column, side in _PLACES.items()
    }
    wear = _wear(car.rulebook, car.field, car.rules, readings)
    return _with_nights(wear, car.car, worn, timezone.now())


def wear_now(car: CarNow) -> TyreWear | None:
    """Say how far a car's tyres may wear, without what their past makes of it."""
    return _wear(car.rulebook, car.field, car.rules, ())


def wear_of_sheet(loaded: LoadedSheet) -> TyreWear | None:
    """Say how long the car of a sheet stays legal from then on."""
    stage = loaded.sheet.stage
    rulebook = rulebook_of(loaded.edition, loaded.rules, loaded.field, stage=stage)
    sheet, entry = loaded.sheet, loaded.sheet.entry
    until = sheet.seal.sealed_at if sheet.is_sealed else timezone.now()
    readings = [
        one
        for one in tyre_readings(entry.car, until=entry.night.date)
        if one.at <= until
    ]
    parts = {one.position: one.part_id for one in sheet.parts.all()}
    worn: dict[PartPosition, Tyre] = {
        side: parts.get(side, column) for column, side in _PLACES.items()
    }
    wear = _wear(rulebook, loaded.field, loaded.rules, readings)
    return _with_nights(wear, entry.car, worn, until)


def _wear(
    rulebook: Rules,
    field: Field,
    rules: tuple[LoadedRule, ...],
    readings: Sequence[TyreReading],
) -> TyreWear | None:
    try:
        limit = wear_limit(rulebook, field)
    except TyresNotMeasuredError:
        return None
    wear = TyreWear(limit=limit, rules=rules, left=None, readings=tuple(readings))
    if not wear.is_broken:
        return wear
    findings = evaluate(rulebook, field)
    broken = Broken(
        value=float(findings.value[0, limit.rule]),
        lower=float(rulebook.lower[limit.rule]),
        upper=float(rulebook.upper[limit.rule]),
        is_admitted=bool(findings.admitted[0, limit.rule]),
    )
    return replace(wear, broken=broken)


def _with_nights(
    wear: TyreWear | None,
    car: Car,
    worn: Mapping[PartPosition, Tyre],
    until: dt.datetime,
) -> TyreWear | None:
    """Say what the past of these tyres, of the car and of the compound makes of it."""
    if wear is None or not wear.has_left:
        return wear
    by_tyre: dict[Tyre, list[TyreReading]] = defaultdict(list)
    for one in wear.readings:
        by_tyre[one.tyre].append(one)
    tyres = [_raced(car, rows) for rows in by_tyre.values()]
    on_car = [place for place, tyre in enumerate(by_tyre) if tyre in worn.values()]
    if not on_car:
        # Not raced yet: the reading that the limit was found from is their only one.
        now = wear.limit.tyre_diameter + wear.limit.wear
        tyres.append(
            RacedTyre(car=car.pk, nights=np.zeros(1), diameter_mm=np.full(1, now))
        )
        on_car = [len(tyres) - 1]
    parts = [tyre for tyre in worn.values() if isinstance(tyre, int)]
    if parts:
        tyres += tyres_of_compound(parts, but_of=car, before=until)
    left = nights_left(
        tyres,
        on_car=on_car,
        limit_mm=wear.limit.tyre_diameter,
        repeatability_mm=QUANTITIES["tyre_diameter_rear"].repeatability,
    )
    return replace(wear, left=left)


def _raced(car: Car, rows: Sequence[TyreReading]) -> RacedTyre:
    return RacedTyre(
        car=car.pk,
        nights=np.array([one.races for one in rows], dtype=np.float64),
        diameter_mm=np.array([one.diameter_mm for one in rows]),
    )


def tyre_readings(car: Car, *, until: dt.date | None = None) -> list[TyreReading]:
    """
    Give what the rear tyres that a car wore have measured, the oldest first.

    On the sealed sheets of its last nights, one mean a sheet, and of the same tyres
    at the bench in between; in four queries, however long the car has raced.
    """
    entries = _entries(car, until)
    keys = [entry.pk for entry in entries]
    tyres = _tyres_of_sheets(keys)
    on_sheets = _on_sheets(keys, tyres, _races_before(entries))
    first: dict[Tyre, dt.datetime] = {}
    for one in on_sheets:
        first.setdefault(one.tyre, one.at)
    # Before a tyre came on to this car, its races were not this car's.
    bench = [
        one
        for one in _at_the_bench(tyres, entries, until)
        if one.tyre in first and one.at > first[one.tyre]
    ]
    return sorted([*on_sheets, *bench], key=lambda one: one.at)


def _entries(car: Car, until: dt.date | None) -> list[_Entry]:
    """Give a car's entries on the last nights that it was at, the oldest first."""
    entries = Entry.objects.filter(car=car)
    if until is not None:
        entries = entries.filter(night__date__lte=until)
    rows = entries.order_by("-night__date", "-night", "-pk").values_list(
        "pk", "night", "night__closed_at", "state"
    )[: LAST_NIGHTS * _CLASSES_A_NIGHT]
    every_entry = [
        _Entry(
            pk=pk,
            night=night,
            closed_at=at,
            raced=state != EntryState.WITHDRAWN,
        )
        for pk, night, at, state in rows
    ]
    shown = list(dict.fromkeys(entry.night for entry in every_entry))[:LAST_NIGHTS]
    return [entry for entry in reversed(every_entry) if entry.night in shown]


def _races_before(entries: Iterable[_Entry]) -> dict[int, int]:
    """Count, for each night, those before on which the car raced."""
    raced = {entry.night for entry in entries if entry.raced}
    before: dict[int, int] = {}
    count = 0
    for night in dict.fromkeys(entry.night for entry in entries):
        before[night] = count
        count += night in raced
    return before


def _on_sheets(
    entries: Sequence[int],
    tyres: Mapping[tuple[int, PartPosition], int],
    races_before: Mapping[int, int],
) -> list[TyreReading]:
    rows = (
        SheetReading.objects.filter(
            sheet__entry__in=entries,
            sheet__seal__isnull=False,
            column__in=_PLACES,
            kind=ReadingKind.VALUE,
            carried_from=None,
            strike=None,
        )
        .order_by()
        .values_list("sheet", "column", "sheet__stage", "sheet__entry__night")
        .annotate(mean=Avg("value"), at=Max("taken_at"))
    )
    readings = [
        TyreReading(
            tyre=tyres.get((sheet, _PLACES[column]), column),
            side=_PLACES[column],
            at=at,
            diameter_mm=from_millionths(float(mean)),
            races=races_before[night] + (stage == Stage.AFTER),
            night=night,
        )
        for sheet, column, stage, night, mean, at in rows
    ]
    return sorted(readings, key=lambda one: (one.at, one.side))


def _tyres_of_sheets(entries: Sequence[int]) -> dict[tuple[int, PartPosition], int]:
    rows = SheetPart.objects.filter(
        sheet__entry__in=entries, position__in=_PLACES.values()
    )
    return {
        (sheet, PartPosition(position)): part
        for sheet, position, part in rows.values_list("sheet", "position", "part")
    }


def _at_the_bench(
    tyres: Mapping[tuple[int, PartPosition], int],
    entries: Iterable[_Entry],
    until: dt.date | None,
) -> list[TyreReading]:
    closed = {
        entry.night: entry.closed_at
        for entry in entries
        if entry.raced and entry.closed_at
    }
    side = {part: position for (_, position), part in tyres.items()}
    estimates = PartEstimate.objects.filter(
        part__in=side, quantity=PartQuantity.TYRE_DIAMETER
    ).exclude(source__startswith="sheet ")
    if until is not None:
        estimates = estimates.filter(taken_at__date__lte=until)
    return [
        TyreReading(
            tyre=part,
            side=side[part],
            at=at,
            diameter_mm=from_millionths(value),
            races=sum(1 for end in closed.values() if end < at),
        )
        for part, at, value in estimates.values_list("part", "taken_at", "value")
    ]
