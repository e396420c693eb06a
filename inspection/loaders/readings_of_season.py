"""What a season's readings say of tyres and of repeats."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import QuerySet

from inspection.compute.entries import ReadingKind
from inspection.compute.quantities import QUANTITIES, Quantity, column_owner
from inspection.compute.requirements import Stage
from inspection.compute.season import Repeats, medians, repeats, wear_a_night
from inspection.compute.sources import PART_COLUMNS
from inspection.loaders.season import Period
from inspection.models import SheetPart, SheetReading
from inventory.compute.stock import PartQuantity

#: Fewer degrees of freedom than these tell nothing of a spread.
LEAST_FREEDOM = 5
_TYRE_COLUMNS = {
    column: position.value
    for (position, quantity), column in PART_COLUMNS.items()
    if quantity is PartQuantity.TYRE_DIAMETER
}


@dataclass(frozen=True, kw_only=True)
class CompoundWear:
    """What the tyres of one compound lost a night, mm off the diameter."""

    compound: str
    tyres: int
    nights: int
    median: float
    least: float
    most: float


@dataclass(frozen=True, kw_only=True)
class Spread:
    """A pooled standard deviation and what it rests on."""

    sets: int
    freedom: int
    deviation: float

    @property
    def tells(self) -> bool:
        return self.freedom >= LEAST_FREEDOM


@dataclass(frozen=True, kw_only=True)
class QuantityRepeats:
    """How repeats of one quantity spread, of all and of each person."""

    quantity: Quantity
    club: Spread
    by_person: tuple[Spread, ...]


@dataclass(frozen=True, kw_only=True)
class RepeatsTable:
    """
    A row a quantity, a column a person by name.

    ``overall`` is each person's spread over the club's own of the same quantities:
    1 is the usual.
    """

    people: tuple[str, ...]
    overall: tuple[Spread, ...]
    rows: tuple[QuantityRepeats, ...]


def _values(period: Period) -> "QuerySet[SheetReading]":
    """Give readings of a value that count and were taken on the sheet itself."""
    return SheetReading.objects.filter(
        kind=ReadingKind.VALUE,
        carried_from=None,
        strike=None,
        sheet__entry__night__date__range=(period.start, period.end),
    )


def load_wear(period: Period) -> tuple[CompoundWear, ...]:
    """Follow the tyres that are parts from night to night, by compound."""
    parts = {
        (sheet, position): (part, compound or "")
        for sheet, position, part, compound in SheetPart.objects.filter(
            sheet__entry__night__date__range=(period.start, period.end),
            position__in=_TYRE_COLUMNS.values(),
        ).values_list("sheet", "position", "part", "part__tyre__compound")
    }
    compounds: dict[int, str] = {}
    nights: dict[int, dict[int, int]] = defaultdict(dict)
    rows: list[tuple[int, float, float]] = []
    for sheet, column, night, stage, value in (
        _values(period)
        .filter(column__in=_TYRE_COLUMNS)
        .order_by("sheet__entry__night__date", "sheet__entry__night_id", "pk")
        .values_list("sheet", "column", "sheet__entry__night", "sheet__stage", "value")
    ):
        found = parts.get((sheet, _TYRE_COLUMNS[column]))
        if found is None or value is None:
            continue
        part, compounds[found[0]] = found
        raced = nights[part].setdefault(night, len(nights[part]))
        # After the race, the night is behind the tyre.
        behind = raced + (stage == Stage.AFTER)
        rows.append((part, float(behind), value / 1_000_000))
    return _by_compound(rows, compounds)


def _by_compound(
    rows: list[tuple[int, float, float]], compounds: dict[int, str]
) -> tuple[CompoundWear, ...]:
    place = {part: at for at, part in enumerate(compounds)}
    wear = wear_a_night(
        np.array([size for _, _, size in rows], dtype=np.float64),
        np.array([raced for _, raced, _ in rows], dtype=np.float64),
        np.array([place[part] for part, _, _ in rows], dtype=np.int64),
        tyres=len(place),
    )
    names = sorted(set(compounds.values()))
    told = ~np.isnan(wear.a_night)
    group = np.array([names.index(name) for name in compounds.values()], dtype=np.int64)
    found = medians(wear.a_night[told], group[told], groups=len(names))
    return tuple(
        CompoundWear(
            compound=name,
            tyres=int(found.count[at]),
            nights=int(wear.nights[told & (group == at)].sum()),
            median=float(found.median[at]),
            least=float(found.least[at]),
            most=float(wear.a_night[told & (group == at)].max()),
        )
        for at, name in enumerate(names)
        if found.count[at]
    )


def load_repeats(period: Period) -> RepeatsTable:
    """Pool the spread of repeats by person and quantity, people by name."""
    rows = list(
        _values(period)
        .order_by("pk")
        .values_list("sheet", "column", "by", "gauge_mode__gauge", "by__name", "value")
    )
    sets: dict[tuple[Any, ...], int] = {}
    in_set = np.array(
        [sets.setdefault(row[:4], len(sets)) for row in rows], dtype=np.int64
    )
    people = sorted({(row[4], row[2]) for row in rows})
    owner = {pk: at for at, (_, pk) in enumerate(people)}
    keys = [column_owner(column)[0] for _, column, _, _ in sets]
    return _table(
        np.array([(row[5] or 0) / 1_000_000 for row in rows], dtype=np.float64),
        in_set,
        np.array([owner[by] for _, _, by, _ in sets], dtype=np.int64),
        keys,
        tuple(name for name, _ in people),
    )


def _table(
    values: np.ndarray[Any, np.dtype[np.float64]],
    in_set: np.ndarray[Any, np.dtype[np.int64]],
    owner: np.ndarray[Any, np.dtype[np.int64]],
    keys: list[str],
    people: tuple[str, ...],
) -> RepeatsTable:
    names = [key for key in QUANTITIES if key in set(keys)]
    at = np.array([names.index(key) for key in keys], dtype=np.int64)
    club = repeats(values, in_set, at, owners=len(names))
    cell = repeats(
        values, in_set, at * len(people) + owner, owners=len(names) * len(people)
    )
    # In units of the club's own spread, quantities can be pooled together.
    usual = club.standard_deviation[at[in_set]]
    told = usual > 0
    overall = repeats(
        values[told] / usual[told], in_set[told], owner, owners=len(people)
    )
    return RepeatsTable(
        people=people,
        overall=_spreads(overall, range(len(people))),
        rows=tuple(
            QuantityRepeats(
                quantity=QUANTITIES[name],
                club=_spreads(club, [row])[0],
                by_person=_spreads(
                    cell, range(row * len(people), (row + 1) * len(people))
                ),
            )
            for row, name in enumerate(names)
            if club.degrees_of_freedom[row] >= LEAST_FREEDOM
        ),
    )


def _spreads(found: Repeats, places: Iterable[int]) -> tuple[Spread, ...]:
    return tuple(
        Spread(
            sets=int(found.sets[place]),
            freedom=int(found.degrees_of_freedom[place]),
            deviation=float(found.standard_deviation[place]),
        )
        for place in places
    )
