"""The cars of the years: who owns them, what sat on them, when they raced."""

import datetime as dt
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from deploy.demo.club import Founded
from inspection.compute.night import PartPosition
from inspection.models import Car, CarValue, FittedPart, RoomSize
from inventory.compute.stock import PartState
from inventory.models import Part, Person
from tests.bench.years.parts import (
    BATCH,
    Learned,
    NewPart,
    PartLike,
    Stock,
    part_like,
)
from tests.bench.years.sizes import Sizes
from tests.bench.years.templates import Row, row_of

REAR: Final = (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT)
#: Of so many times as many as are there on a night, each night draws.
_ROSTER: Final = 2.4
_CARS_AT_ONCE: Final = 100
_DAY: Final = dt.timedelta(days=1)


@dataclass(kw_only=True)
class YearsCar:
    """A car that raced in the past; ``nights`` are the places of those it was at."""

    car: Car
    like: str
    owner_id: int
    is_faithful: bool
    nights: Sequence[int]
    #: The parts in each place, one after the other; each but the last is worn out.
    parts: dict[PartPosition, list[Part]] = field(default_factory=dict)

    def worn_at(self, turn: int, cycle: int) -> dict[str, Part]:
        """Give what sat on the car at its turn of so many."""
        return {
            position: some[min(turn // cycle, len(some) - 1)]
            for position, some in self.parts.items()
        }


class Garage:
    """All cars of the years, written with what sat on them."""

    def __init__(
        self,
        founded: Founded,
        sizes: Sizes,
        *,
        owners: Sequence[Person],
        opens: Sequence[dt.datetime],
    ) -> None:
        self.founded, self.sizes = founded, sizes
        self.owners, self.opens = owners, opens
        self.rng = random.Random(sizes.nights)
        self.learned = Learned(rng=self.rng)
        self.stock = Stock(self.learned)
        self.likes = {
            number: {position: part_like(part) for position, part in one.parts.items()}
            for number, one in founded.crew.garage.items()
        }
        self.cars = self._cars()
        for start in range(0, len(self.cars), _CARS_AT_ONCE):
            self._bring_parts(self.cars[start : start + _CARS_AT_ONCE])
        self._fill_drawers()
        self.learned.write()

    def at_night(self) -> list[list[tuple[YearsCar, int]]]:
        """Give the cars of each night, with the count of their turns before."""
        found: list[list[tuple[YearsCar, int]]] = [[] for _ in self.opens]
        for car in self.cars:
            for turn, night in enumerate(car.nights):
                found[night].append((car, turn))
        return found

    def _cars(self) -> list[YearsCar]:
        demo = list(self.founded.crew.garage.values())
        made = Car.objects.bulk_create(
            self._car(place, demo[place % len(demo)].car)
            for place in range(self.sizes.cars)
        )
        attended = self._attended(len(made))
        copies = [
            YearsCar(
                car=car,
                like=demo[place % len(demo)].demo.number,
                owner_id=car.owner_id,
                is_faithful=False,
                nights=attended[place],
            )
            for place, car in enumerate(made)
        ]
        for table in (CarValue, RoomSize):
            self._copy_sizes(table, copies)
        faithful = [
            YearsCar(
                car=one.car,
                like=one.demo.number,
                owner_id=one.car.owner_id,
                is_faithful=True,
                nights=range(self.sizes.nights),
            )
            for one in demo[: self.sizes.faithful]
        ]
        return [*faithful, *copies]

    def _car(self, place: int, like: Car) -> Car:
        number = str(1000 + place)
        said = {
            "id": None,
            "tag": f"years{number}",
            "number": number,
            "name": f"{like.name} {number}",
        }
        owner = self.owners[place % len(self.owners)]
        return Car(**row_of(like) | said | {"owner_id": owner.pk})

    def _attended(self, count: int) -> list[list[int]]:
        """Let a roster move through the years; some of it is there on each night."""
        wanted = min(self.sizes.entries_a_night - self.sizes.faithful, count)
        roster = min(round(wanted * _ROSTER), count)
        found: list[list[int]] = [[] for _ in range(count)]
        last = max(self.sizes.nights - 1, 1)
        for night in range(self.sizes.nights):
            start = (count - roster) * night // last
            for place in self.rng.sample(range(start, start + roster), wanted):
                found[place].append(night)
        return found

    def _copy_sizes(
        self, table: type[CarValue] | type[RoomSize], copies: Sequence[YearsCar]
    ) -> None:
        of_demo: Mapping[str, Sequence[Row]] = {
            number: [row_of(v) for v in table.objects.current().filter(car=one.car)]
            for number, one in self.founded.crew.garage.items()
        }
        rows: Iterator[Any] = (
            table(**row | {"id": None, "car_id": one.car.pk})
            for one in copies
            for row in of_demo[one.like]
        )
        table._default_manager.bulk_create(rows, batch_size=BATCH)

    def _bring_parts(self, cars: Sequence[YearsCar]) -> None:
        new: list[NewPart] = []
        fitted: list[FittedPart] = []
        for car in cars:
            for position, like in self.likes[car.like].items():
                some = self._times(car, position)
                parts = [self._new_part(like, car, position, *one) for one in some]
                car.parts[position] = [one.part for one in parts]
                new += parts
                fitted += [_fitted(car, position, one) for one in parts]
        self.stock.write(new)
        FittedPart.objects.bulk_create(fitted)

    def _times(
        self, car: YearsCar, position: PartPosition
    ) -> list[tuple[dt.datetime, dt.datetime | None]]:
        """Say from when until when each part was in its place."""
        cycle = self.sizes.tyre_cycle if position in REAR else len(self.opens)
        starts = [self.opens[car.nights[at]] for at in range(0, len(car.nights), cycle)]
        starts = starts or [self.opens[0]]
        ends: list[dt.datetime | None] = [*starts[1:], None]
        if car.is_faithful:
            # What sits on these today was brought by the demo.
            ends[-1] = self.opens[-1] + 2 * _DAY
        return [
            (start - _DAY, end and end - _DAY)
            for start, end in zip(starts, ends, strict=True)
        ]

    def _new_part(
        self,
        like: PartLike,
        car: YearsCar,
        position: PartPosition,
        start: dt.datetime,
        end: dt.datetime | None,
    ) -> NewPart:
        state = PartState.ON_CAR if end is None else PartState.RETIRED
        return NewPart(
            part=self.stock.copy(like, start, owner_id=car.owner_id, state=state),
            like=like,
            by_id=car.owner_id,
            start=start,
            end=end,
            place=f"car {car.car.number}, {position}",
        )

    def _fill_drawers(self) -> None:
        """Bring what lies in drawers or is long retired, until the count is full."""
        likes = [part_like(part) for part in self.founded.spares]
        missing = max(self.sizes.parts - Part.objects.count(), self.sizes.in_drawers)
        for start in range(0, missing, BATCH):
            places = range(start, min(start + BATCH, missing))
            self.stock.write(
                [self._in_drawer(place, likes[place % len(likes)]) for place in places]
            )

    def _in_drawer(self, place: int, like: PartLike) -> NewPart:
        start = self.opens[place % len(self.opens)] - 2 * _DAY
        is_here = place < self.sizes.in_drawers
        drawer = f"{like.part['drawer']} {place % 40}" if is_here else ""
        state = PartState.IN_STOCK if is_here else PartState.RETIRED
        return NewPart(
            part=self.stock.copy(like, start, drawer=drawer, state=state),
            like=like,
            by_id=self.founded.crew.people["prudence"].pk,
            start=start,
            end=None if is_here else start + 200 * _DAY,
        )


def _fitted(car: YearsCar, position: PartPosition, new: NewPart) -> FittedPart:
    return FittedPart(
        car=car.car,
        position=position,
        part=new.part,
        fitted_at=new.start,
        fitted_by_id=car.owner_id,
        removed_at=new.end,
    )
