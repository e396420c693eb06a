"""From the part to the cars: which of them take it, and what an unmarked gear is."""

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Final

import numpy as np

from inspection.compute.fit import CheckState, MotorFit, standings
from inspection.loaders.fit.cars import (
    CarNow,
    envelope_of_cars,
    load_in_order,
    rules_together,
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
    to_be_had,
)
from inspection.loaders.fit.stock import (
    Fit,
    PartTable,
    Standing,
    set_against,
)
from inspection.loaders.fit.typed import GearInHand
from inspection.loaders.fit.tyre_pairs import pairs_of
from inspection.models import Car
from inventory.compute.gears import NO_STANDARD_PITCH, PitchCandidate, identify_pitch
from inventory.compute.measuring import Gauge, estimate
from inventory.compute.stock import GearRole, PartKind, PartQuantity
from inventory.models import Part, Person

#: The kinds of part of which it is checked whether a car takes them.
CHECKED_KINDS: Final = frozenset({PartKind.TYRE, PartKind.GEAR, PartKind.MOTOR})
#: A caliper as most clubs have; common practice, no source.
_CALIPER: Final = Gauge(0.01, 0.02, 0.0)
#: A pitch less likely than this is not worth rolling the gear against.
WORTH_TRYING: Final = 0.05
WORTH_SHOWING: Final = 0.005
_SHOWN: Final = 3
#: A gear of the stock that is so much larger or smaller is another one.
_SAME_SIZE_MM: Final = 0.15
_STANDINGS: Final = tuple(Standing)
_PAIR: Final = (0, 1)


@dataclass(frozen=True, kw_only=True, eq=False)
class CarLine:
    """A car against one part; its checks are put into words when they are asked."""

    car: Car
    standing: Standing
    ratio: float | None
    rollout_mm: float | None
    change_percent: float | None
    look: Callable[[], tuple[CheckLine, ...]]
    pitch: str = ""

    @cached_property
    def checks(self) -> tuple[CheckLine, ...]:
        """Every check of the car."""
        return self.look()

    @cached_property
    def amiss(self) -> Amiss:
        """The checks that keep the part from fitting: failed, unmeasured, close."""
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


def identify(
    teeth: int, outside_diameter_mm: float, *, form_u_mm: float = 0.0
) -> Unmarked:
    """Say what pitch a gear may have that was measured once with a caliper."""
    read = estimate([outside_diameter_mm], _CALIPER)
    u_mm = math.hypot(read.standard_uncertainty, form_u_mm)
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
                look=partial(_checks, table, fit, at, car),
                pitch=pitch,
            )
            for at, car in enumerate(some)
        ]
    place = {car.car.pk: at for at, car in enumerate(cars)}
    return sorted(lines, key=lambda line: (_rank(line), place[line.car.pk]))


def _set_against(
    table: PartTable, cars: Sequence[CarNow]
) -> Iterator[tuple[Sequence[CarNow], Fit]]:
    """Set a part against all cars of one edition at once."""
    by_edition: dict[int, list[CarNow]] = defaultdict(list)
    for car in cars:
        by_edition[car.edition.pk if car.edition else 0].append(car)
    for some in by_edition.values():
        yield some, set_against(table, envelope_of_cars(some))


def _checks(table: PartTable, fit: Fit, at: int, car: CarNow) -> tuple[CheckLine, ...]:
    rows = fit.rows(at)
    if any(row.state is CheckState.NOT_MEASURED for row in rows):
        # Of many cars the sentence names what any of them lacks: ask for this alone.
        return check_lines(set_against(table, car.envelope).rows(0), car.rules)
    return check_lines(rows, rules_together(car.edition))


def cars_taking_any(
    hand: GearInHand, pitches: Sequence[str], cars: Sequence[CarNow]
) -> list[CarLine]:
    """Set a gear against cars at each pitch that it may have; the best a car."""
    line_by_car: dict[int, CarLine] = {}
    for pitch in pitches:
        for line in cars_taking(hand.at(pitch).table, cars, pitch=pitch):
            before = line_by_car.get(line.car.pk)
            if before is None or _rank(line) < _rank(before):
                line_by_car[line.car.pk] = line
    return sorted(line_by_car.values(), key=_rank)


def table_of_part(part: Part) -> PartTable:
    """Write one part of a checked kind as a table; a tyre is taken with one like it."""
    kind = part.kind
    if kind not in CHECKED_KINDS:
        raise ValueError(kind)
    itself = Part.objects.filter(pk=part.pk)
    columns = load_columns(itself, kind, gauges=gauges_of_parts())
    if kind is PartKind.TYRE:
        alone = np.zeros(1, dtype=np.intp)
        return pairs_of(columns, alone, alone)
    if kind is PartKind.MOTOR:
        return motors_of(columns)
    is_pinion = part.gear.role == GearRole.PINION
    return pinions_of(columns) if is_pinion else gears_of(columns)


def cars_taking_what_is_in(parts: Sequence[Part], cars: Iterable[Car]) -> list[CarLine]:
    """
    Set a part, or the two tyres of one bag, against some cars.

    Nothing for a kind that is not checked, and for a bag of anything else.
    """
    kinds = {part.kind for part in parts}
    is_pair = len(parts) == len(_PAIR) and kinds == {PartKind.TYRE}
    if not kinds <= CHECKED_KINDS or not (is_pair or len(parts) == 1):
        return []
    loaded = load_in_order(cars)
    if not loaded:
        return []
    table = _table_of_pair(parts) if is_pair else table_of_part(parts[0])
    return cars_taking(table, loaded)


def _table_of_pair(parts: Sequence[Part]) -> PartTable:
    keys = [part.pk for part in parts]
    both = Part.objects.filter(pk__in=keys)
    columns = load_columns(both, PartKind.TYRE, gauges=gauges_of_parts())
    return pairs_of(columns, *np.array(_PAIR)[:, None])


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
