"""From the part to the cars: which of them take it, and what an unmarked gear is."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from inspection.compute.fit import (
    CheckRow,
    CheckState,
    Gears,
    MotorFit,
    Pinions,
    fits_on,
    gear_fit,
    pinion_fit,
)
from inspection.loaders.fit import (
    CheckLine,
    Fit,
    PartTable,
    Standing,
    check_lines,
    standings,
    what_is_amiss,
)
from inspection.loaders.fit_cars import CarNow, envelope_of_cars
from inspection.loaders.fit_pairs import pairs_of
from inspection.loaders.fit_parts import (
    gears_of,
    load_columns,
    motors_of,
    pinions_of,
    to_be_had,
)
from inspection.loaders.fit_typed import GearInHand
from inspection.models import Car
from inventory.compute.gearing import NO_STANDARD_PITCH, PitchCandidate, identify_pitch
from inventory.compute.measuring import Gauge, estimate
from inventory.compute.stock import GearRole, PartKind, PartQuantity
from inventory.models import Part, Person

#: A caliper as most clubs have; common practice, no source.
_CALIPER: Final = Gauge(0.01, 0.02, 0.0)
#: A pitch less likely than this is not worth rolling the gear against.
WORTH_TRYING: Final = 0.05
WORTH_SHOWING: Final = 0.005
_SHOWN: Final = 3
#: A gear of the stock that is so much larger or smaller is another one.
_SAME_SIZE_MM: Final = 0.15
_STANDINGS: Final = tuple(Standing)


@dataclass(frozen=True, kw_only=True)
class CarLine:
    """A car against one part."""

    car: Car
    standing: Standing
    ratio: float | None
    rollout_mm: float | None
    change_percent: float | None
    checks: tuple[CheckLine, ...]
    pitch: str = ""

    @property
    def amiss(self) -> tuple[CheckLine, ...]:
        """The checks that keep the part from fitting, those that fail first."""
        return what_is_amiss(self.checks)


@dataclass(frozen=True, kw_only=True)
class PitchLine:
    """A pitch that a gear may have, as a page shows it."""

    name: str
    percent: float
    outside_diameter_mm: float


@dataclass(frozen=True, kw_only=True)
class Unmarked:
    """What an unmarked gear may be, most likely first."""

    candidates: tuple[PitchCandidate, ...]
    u_mm: float

    @property
    def worth_trying(self) -> tuple[PitchCandidate, ...]:
        """The standard pitches that are likely enough."""
        return tuple(
            one
            for one in self.candidates
            if one.probability >= WORTH_TRYING and one.name != NO_STANDARD_PITCH
        )

    @property
    def shown(self) -> tuple[PitchLine, ...]:
        """The likeliest, three at least, with their chances."""
        return tuple(
            PitchLine(
                name=one.name,
                percent=100.0 * one.probability,
                outside_diameter_mm=one.outside_diameter_mm,
            )
            for place, one in enumerate(self.candidates)
            if place < _SHOWN or one.probability >= WORTH_SHOWING
        )

    @property
    def has_no_pitch(self) -> bool:
        """Whether no standard pitch explains the size."""
        return self.candidates[0].name == NO_STANDARD_PITCH

    @property
    def nearest(self) -> PitchCandidate:
        """The standard pitch that comes nearest."""
        return next(one for one in self.candidates if one.name != NO_STANDARD_PITCH)


def identify(teeth: int, outside_diameter_mm: float) -> Unmarked:
    """Say what pitch a gear may have that was measured once with a caliper."""
    u_mm = estimate([outside_diameter_mm], _CALIPER).standard_uncertainty
    return Unmarked(
        candidates=identify_pitch(
            teeth, outside_diameter_mm=outside_diameter_mm, u_mm=u_mm
        ),
        u_mm=u_mm,
    )


def cars_taking(
    table: PartTable, cars: Sequence[CarNow], *, pitch: str = ""
) -> list[CarLine]:
    """Set one part against cars: those that take it, then those that may."""
    lines: list[CarLine] = []
    for some, fit in _set_against(table, cars):
        codes = standings(fit.table)
        lines += [
            CarLine(
                car=car.car,
                standing=_STANDINGS[int(codes[at])],
                ratio=_at(fit, "ratio", at),
                rollout_mm=_at(fit, "rollout_mm", at),
                change_percent=_at(fit, "rollout_change_percent", at),
                checks=check_lines(_rows(table, fit, at, car), car.rules),
                pitch=pitch,
            )
            for at, car in enumerate(some)
        ]
    place = {car.car.pk: at for at, car in enumerate(cars)}
    return sorted(lines, key=lambda line: (_rank(line), place[line.car.pk]))


def _set_against(
    table: PartTable, cars: Sequence[CarNow]
) -> Iterator[tuple[Sequence[CarNow], Fit]]:
    """Set a part against cars: a gear against all of one edition at once."""
    if not isinstance(table, Gears | Pinions):
        fits = fits_on(table, [car.envelope for car in cars])
        yield from (([car], fit) for car, fit in zip(cars, fits, strict=True))
        return
    by_edition: dict[int, list[CarNow]] = defaultdict(list)
    for car in cars:
        by_edition[car.edition.pk if car.edition else 0].append(car)
    for some in by_edition.values():
        envelope = envelope_of_cars(some)
        if isinstance(table, Gears):
            yield some, gear_fit(table, envelope)
        else:
            yield some, pinion_fit(table, envelope)


def _rows(table: PartTable, fit: Fit, at: int, car: CarNow) -> tuple[CheckRow, ...]:
    rows = fit.rows(at)
    is_unknown = any(row.state is CheckState.NOT_MEASURED for row in rows)
    if fit.table.row_count == 1 or not is_unknown:
        return rows
    # Of many cars the sentence names what any of them lacks: ask for this one alone.
    (alone,) = fits_on(table, [car.envelope])
    return alone.rows(0)


def cars_taking_any(
    hand: GearInHand, pitches: Sequence[str], cars: Sequence[CarNow]
) -> list[CarLine]:
    """Set a gear against cars at each pitch that it may have; the best a car."""
    found: dict[int, CarLine] = {}
    for pitch in pitches:
        for line in cars_taking(hand.at(pitch).table, cars, pitch=pitch):
            before = found.get(line.car.pk)
            if before is None or _rank(line) < _rank(before):
                found[line.car.pk] = line
    return sorted(found.values(), key=_rank)


def table_of_part(part: Part) -> PartTable:
    """Write one part as a table; a tyre is taken with one like it."""
    columns = load_columns(Part.objects.filter(pk=part.pk), PartKind(part.kind))
    match PartKind(part.kind):
        case PartKind.TYRE:
            alone = np.zeros(1, dtype=np.intp)
            return pairs_of(columns, alone, alone)
        case PartKind.MOTOR:
            return motors_of(columns)
        case PartKind.GEAR:
            is_pinion = part.gear.role == GearRole.PINION
            return pinions_of(columns) if is_pinion else gears_of(columns)


def parts_like(hand: GearInHand, person: Person) -> list[Part]:
    """Find what of the stock the gear in the hand may be."""
    parts = Part.objects.filter(
        to_be_had(person), gear__role=hand.role, gear__teeth=hand.teeth
    )
    columns = load_columns(parts, PartKind.GEAR)
    diameter = columns.sizes[PartQuantity.GEAR_DIAMETER]
    away = np.abs(diameter - hand.outside_diameter_mm)
    # One that was never measured may be it as well.
    alike = np.isnan(away) | (away <= _SAME_SIZE_MM)
    keys = columns.pk[np.flatnonzero(alike)].tolist()
    return list(
        Part.objects.filter(pk__in=keys)
        .select_related("gear", "holder")
        .order_by("tag")
    )


def _rank(line: CarLine) -> int:
    return _STANDINGS.index(line.standing)


def _at(fit: Fit, name: str, at: int) -> float | None:
    column = getattr(fit, name, None)
    if column is None or isinstance(fit, MotorFit):
        return None
    value = float(np.broadcast_to(column, (fit.table.row_count,))[at])
    return None if np.isnan(value) else value
