"""What a season's readings say of tyres and of repeats."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from inspection.compute.history import Repeats, medians, wear_a_night
from inspection.compute.quantities import QUANTITIES, Quantity
from inspection.loaders.history.night_sums import NightFigures
from inventory.compute.numbers import from_millionths
from inventory.models import Person

#: Fewer degrees of freedom than these tell nothing of a spread.
LEAST_FREEDOM: Final = 5


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


def wear_of(nights: Iterable[NightFigures]) -> tuple[CompoundWear, ...]:
    """Follow the tyres that are parts from night to night, by compound."""
    compounds: dict[int, str] = {}
    raced: dict[int, int] = defaultdict(int)
    rows: list[tuple[int, float, float]] = []
    for night in nights:
        for part, compound, after, size in night.sums.tyres:
            compounds[part] = compound
            # After the race, the night is behind the tyre.
            rows.append((part, float(raced[part] + after), from_millionths(size)))
        for part in {row[0] for row in night.sums.tyres}:
            raced[part] += 1
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
    middles = medians(wear.a_night[told], group[told], groups=len(names))
    return tuple(
        CompoundWear(
            compound=name,
            tyres=int(middles.count[at]),
            nights=int(wear.nights[told & (group == at)].sum()),
            median=float(middles.median[at]),
            least=float(middles.least[at]),
            most=float(wear.a_night[told & (group == at)].max()),
        )
        for at, name in enumerate(names)
        if middles.count[at]
    )


def repeats_of(nights: Iterable[NightFigures]) -> RepeatsTable:
    """Pool the spread of repeats by person and quantity, people by name."""
    cells: dict[tuple[str, int], Repeats] = defaultdict(Repeats)
    for night in nights:
        for key, person, sets, freedom, squares in night.sums.repeats:
            cells[key, person] += Repeats(
                sets=sets, degrees_of_freedom=freedom, squares=squares
            )
    names = Person.objects.filter(pk__in={person for _, person in cells})
    people = dict(names.order_by("name", "pk").values_list("pk", "name"))
    keys = [key for key in QUANTITIES if any(key == one for one, _ in cells)]
    club = {key: _sum(cells[key, pk] for pk in people) for key in keys}
    return RepeatsTable(
        people=tuple(people.values()),
        overall=tuple(
            # In units of the club's own spread, quantities can be pooled together.
            _spread(_sum(cells[key, pk].over(club[key]) for key in keys))
            for pk in people
        ),
        rows=tuple(
            QuantityRepeats(
                quantity=QUANTITIES[key],
                club=_spread(club[key]),
                by_person=tuple(_spread(cells[key, pk]) for pk in people),
            )
            for key in keys
            if club[key].degrees_of_freedom >= LEAST_FREEDOM
        ),
    )


def _spread(scatter: Repeats) -> Spread:
    return Spread(
        sets=scatter.sets,
        freedom=scatter.degrees_of_freedom,
        deviation=scatter.standard_deviation,
    )


def _sum(some: Iterable[Repeats]) -> Repeats:
    return sum(some, Repeats())
