"""Parts of the years: copied with their facts, sizes and moves."""

import datetime as dt
import itertools
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from django.db import models

from inventory.compute.stock import Move, PartKind, PartQuantity, make_tag
from inventory.models import (
    Gear,
    Motor,
    Part,
    PartEstimate,
    PartMove,
    PartReading,
    Tyre,
)
from tests.bench.years.templates import Row, row_of

BATCH: Final = 2_000
_PREFIX: Final = {PartKind.TYRE: "T", PartKind.GEAR: "G", PartKind.MOTOR: "M"}
_FACTS: Final[Mapping[PartKind, type[models.Model]]] = {
    PartKind.TYRE: Tyre,
    PartKind.GEAR: Gear,
    PartKind.MOTOR: Motor,
}
_HOUR: Final = dt.timedelta(hours=1)


@dataclass(frozen=True, kw_only=True)
class PartLike:
    """A part of the demo, to be copied: its rows."""

    part: Row
    facts: Row
    estimates: Sequence[tuple[Row, Sequence[Row]]]


@dataclass(frozen=True, kw_only=True)
class NewPart:
    """A copy, not written yet, and from when until when it was in use."""

    part: Part
    like: PartLike
    by_id: int
    start: dt.datetime
    end: dt.datetime | None
    place: str = ""

    def moves(self) -> list[PartMove]:
        """Give its way: in, on to its car, off again, out of use."""
        way: list[tuple[Move, dt.datetime, str]] = [
            (Move.RECEIVE, self.start - _HOUR, "")
        ]
        if self.place:
            way.append((Move.FIT, self.start, self.place))
        if self.end is not None and self.place:
            way.append((Move.TAKE_BACK, self.end, ""))
        if self.end is not None:
            way.append((Move.RETIRE, self.end + _HOUR, "Worn."))
        return [
            PartMove(part=self.part, move=move, at=at, by_id=self.by_id, note=note)
            for move, at, note in way
        ]


def part_like(part: Part) -> PartLike:
    """Read a part of the demo."""
    return PartLike(
        part=row_of(Part.objects.get(pk=part.pk)),
        facts=row_of(getattr(part, part.kind)),
        estimates=[
            (row_of(one), [row_of(reading) for reading in one.readings.all()])
            for one in part.estimates.current().prefetch_related("readings")
        ],
    )


@dataclass(kw_only=True)
class Learned:
    """
    Estimates on their way in: when one ends is known only when the next is learnt.

    A part's diameter waits for the next sheet; nothing else is measured again.
    """

    rng: random.Random
    current: dict[tuple[int, str], tuple[PartEstimate, list[PartReading]]] = field(
        default_factory=dict
    )
    ended: list[tuple[PartEstimate, list[PartReading]]] = field(default_factory=list)

    def tell(self, estimate: Row, readings: Sequence[Row]) -> None:
        """Take what was found of a part; what was known of it before ends."""
        new = PartEstimate(**estimate | {"id": None, "superseded_at": None})
        rows = [
            PartReading(**row | {"id": None, "reading_id": any_id(self.rng)})
            for row in readings
        ]
        key = new.part_id, new.quantity
        if key in self.current:
            before = self.current[key]
            before[0].superseded_at = new.taken_at
            self.ended.append(before)
        if new.quantity == PartQuantity.TYRE_DIAMETER:
            self.current[key] = new, rows
        else:
            self.ended.append((new, rows))
        if len(self.ended) >= BATCH:
            self.write()

    def write(self, *, is_last: bool = False) -> None:
        """Write what has ended; at last also what is current."""
        if is_last:
            self.ended += self.current.values()
            self.current.clear()
        PartEstimate.objects.bulk_create(estimate for estimate, _ in self.ended)
        for estimate, readings in self.ended:
            for one in readings:
                one.estimate = estimate
        PartReading.objects.bulk_create(
            reading for _, readings in self.ended for reading in readings
        )
        self.ended.clear()


class Stock:
    """Writes parts with all that is said of them."""

    def __init__(self, learned: Learned) -> None:
        self.learned = learned
        self._numbers = itertools.count(100_000)

    def copy(self, like: PartLike, at: dt.datetime, **facts: Any) -> Part:
        """Make a part like one of the demo, with a tag of its own."""
        kind = PartKind(like.part["kind"])
        tag = make_tag(_PREFIX[kind], next(self._numbers))
        row = like.part | {"id": None, "tag": tag, "received_at": at, "holder_id": None}
        return Part(**row | facts)

    def write(self, new: Sequence[NewPart]) -> None:
        """Write parts, what they are, their moves and their sizes."""
        Part.objects.bulk_create(one.part for one in new)
        for kind, table in _FACTS.items():
            table._default_manager.bulk_create(
                table(**one.like.facts | {"part_id": one.part.pk})
                for one in new
                if one.part.kind == kind
            )
        PartMove.objects.bulk_create(move for one in new for move in one.moves())
        for one in new:
            said = {"part_id": one.part.pk, "taken_at": one.part.received_at}
            for estimate, readings in one.like.estimates:
                self.learned.tell(estimate | said, readings)


def any_id(rng: random.Random) -> str:
    """Give an id as a device makes it."""
    return f"{rng.getrandbits(128):032x}"
