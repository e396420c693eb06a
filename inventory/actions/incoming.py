"""
Rows of parts into stock, in as many statements as tables, not as parts.

The pieces of `take_batch` and `measure_tyre`; called inside their transaction.
"""

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from django.db import IntegrityError
from django.db.models import F, Q

from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import free_tags
from inventory.compute.batch_estimates import BatchEstimate
from inventory.compute.batch_rows import BatchRow, PartWord
from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.stock import Move, PartKind, PartQuantity
from inventory.compute.units import Unit
from inventory.loaders.batches import Standing, StockStanding
from inventory.loaders.gauges import LoadedGauge
from inventory.models import (
    Batch,
    BatchPart,
    Motor,
    Part,
    PartEstimate,
    PartMove,
    PartReading,
    Tyre,
)
from inventory.models.planning import count_anew

T = TypeVar("T")

_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook batch reading")
#: How often a number that somebody took at the same moment is tried again.
_TRIES: Final = 3
_AT_ONCE: Final = 500


@dataclass(frozen=True, kw_only=True)
class CheckedRows:
    """Rows that may come in: their estimates, and what each is to the stock."""

    rows: Sequence[BatchRow]
    estimates: Sequence[BatchEstimate]
    standings: Sequence[StockStanding]

    def count(self, standing: Standing) -> int:
        """Count the rows of one standing."""
        return sum(one.standing is standing for one in self.standings)


@dataclass(frozen=True, kw_only=True)
class Incoming:
    """Rows on their way into a batch; ``seed`` makes the ids of their readings."""

    batch: Batch
    checked: CheckedRows
    seed: str
    act: Act
    gauge: LoadedGauge | None = None
    first_position: int = 0


def write_rows(incoming: Incoming) -> list[int]:
    """
    Write rows as parts of a batch; give the parts' keys.

    Writes Parts, Tyres or Motors, PartMoves, BatchParts, PartEstimates and
    PartReadings.
    """
    part_ids = _write_parts(incoming)
    BatchPart.objects.bulk_create(
        BatchPart(batch=incoming.batch, part_id=part_id, position=position)
        for position, part_id in enumerate(part_ids, incoming.first_position)
    )
    _write_estimates(incoming, part_ids)
    if len(part_ids) > _AT_ONCE:
        count_anew(Part, Tyre, Motor, PartMove, BatchPart, PartEstimate, PartReading)
    return part_ids


def with_numbers(write: Callable[[], T]) -> T:
    """
    Write something that takes new numbers; again where somebody was quicker.

    The write is a transaction of its own.
    """
    for _ in range(_TRIES):
        try:
            return write()
        except IntegrityError:
            continue
    raise RefusedError(
        code="try_again",
        sentence="Others are taking parts in at this moment; try again.",
    )


def reading_id(seed: str, row: int, place: int) -> uuid.UUID:
    """Make the id of a reading out of where it came from."""
    return uuid.uuid5(_IDS, f"{seed}/{row}/{place}")


def _write_parts(incoming: Incoming) -> list[int]:
    checked, act = incoming.checked, incoming.act
    kind = PartKind(incoming.batch.kind)
    places = [
        place
        for place, standing in enumerate(checked.standings)
        if standing.standing is Standing.NEW
    ]
    new = [checked.rows[place] for place in places]
    tags = iter(free_tags(kind, sum(not row.tag for row in new)))
    words = [_words(incoming.batch, row) for row in new]
    parts = Part.objects.bulk_create(
        Part(
            tag=row.tag or next(tags),
            kind=kind,
            name=said.get(PartWord.NAME, ""),
            drawer=said.get(PartWord.DRAWER, ""),
            received_at=act.at,
        )
        for row, said in zip(new, words, strict=True)
    )
    _write_facts(kind, parts, words)
    note = f"batch {incoming.batch}"[:200]
    PartMove.objects.bulk_create(
        PartMove(part=part, move=Move.RECEIVE, at=act.at, by=act.by, note=note)
        for part in parts
    )
    made = dict(zip(places, (part.pk for part in parts), strict=True))
    return [
        made[place] if standing.part_id is None else standing.part_id
        for place, standing in enumerate(checked.standings)
    ]


def _words(batch: Batch, row: BatchRow) -> Mapping[PartWord, str]:
    of_all = {PartWord(word): text for word, text in batch.words.items()}
    return {**of_all, **row.words}


def _write_facts(
    kind: PartKind, parts: Sequence[Part], words: Sequence[Mapping[PartWord, str]]
) -> None:
    if kind is PartKind.MOTOR:
        Motor.objects.bulk_create(
            Motor(part=part, family=said.get(PartWord.FAMILY, ""))
            for part, said in zip(parts, words, strict=True)
        )
        return
    Tyre.objects.bulk_create(
        Tyre(
            part=part,
            compound=said.get(PartWord.COMPOUND, ""),
            width_code=said.get(PartWord.WIDTH_CODE, ""),
            wheel=said.get(PartWord.WHEEL, ""),
        )
        for part, said in zip(parts, words, strict=True)
    )


def _write_estimates(incoming: Incoming, part_ids: Sequence[int]) -> None:
    standings = incoming.checked.standings
    said = [
        one
        for one in incoming.checked.estimates
        if standings[one.row].standing is not Standing.SAME
    ]
    _supersede(incoming, said, part_ids)
    made = PartEstimate.objects.bulk_create(
        _estimate(incoming, one, part_ids[one.row]) for one in said
    )
    of = {
        (one.row, one.quantity): estimate
        for one, estimate in zip(said, made, strict=True)
    }
    PartReading.objects.bulk_create(_readings(incoming, of))


def _supersede(
    incoming: Incoming, said: Sequence[BatchEstimate], part_ids: Sequence[int]
) -> None:
    """End the current estimates of parts that were in stock before."""
    standings = incoming.checked.standings
    known = [one for one in said if standings[one.row].part_id is not None]
    by_quantity: dict[PartQuantity, list[int]] = {}
    for one in known:
        by_quantity.setdefault(one.quantity, []).append(part_ids[one.row])
    for quantity, ids in by_quantity.items():
        for start in range(0, len(ids), _AT_ONCE):
            few = Q(part__in=ids[start : start + _AT_ONCE], quantity=quantity)
            PartEstimate.objects.current().filter(few).update(
                superseded_at=incoming.act.at
            )
    for start in range(0, len(known), _AT_ONCE):
        changed = {part_ids[one.row] for one in known[start : start + _AT_ONCE]}
        Part.objects.filter(pk__in=changed).update(version=F("version") + 1)


def _estimate(incoming: Incoming, one: BatchEstimate, part_id: int) -> PartEstimate:
    is_length = PART_SCALES[one.quantity].unit is Unit.MILLIMETRE
    gauge, act = incoming.gauge if is_length else None, incoming.act
    return PartEstimate(
        part_id=part_id,
        quantity=one.quantity,
        value=one.value,
        random=one.random,
        systematic=one.systematic,
        count=one.count,
        gauge_mode=gauge.mode if gauge else None,
        gauge_check_id=gauge.check_id if gauge else None,
        taken_at=act.at,
        by=act.by,
        source=f"batch {incoming.batch}"[:60],
    )


def _readings(
    incoming: Incoming, of: Mapping[tuple[int, PartQuantity], PartEstimate]
) -> Iterator[PartReading]:
    for number, row in enumerate(incoming.checked.rows):
        angles: dict[tuple[PartQuantity, str], int] = {}
        for place, one in enumerate(row.readings):
            estimate = of.get((number, one.quantity))
            if estimate is None:
                continue
            key = one.quantity, one.section.value
            angle = angles[key] = angles.get(key, -1) + 1
            yield PartReading(
                estimate=estimate,
                reading_id=reading_id(incoming.seed, number, place),
                value=one.millionths,
                text=one.text,
                unit_typed=one.mark,
                section=one.section,
                angle_index=angle,
            )
