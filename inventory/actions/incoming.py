"""
Rows of parts into stock, in as many statements as tables, not as parts.

The pieces of `take_batch` and `measure_tyre`; called inside their transaction.
"""

import datetime as dt
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Final, TypeVar

from django.db import IntegrityError
from django.db.models import F, Q
from django.utils.translation import gettext as _

from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import free_tags
from inventory.compute.batches import BatchEstimate
from inventory.compute.numbers import Unit
from inventory.compute.stock import (
    KINDS,
    PART_SCALES,
    Move,
    PartKind,
    PartQuantity,
)
from inventory.loaders.batches import Standing
from inventory.loaders.gauges import LoadedGauge
from inventory.loaders.incoming.checked_rows import CheckedRows
from inventory.models import (
    Batch,
    BatchPart,
    Part,
    PartEstimate,
    PartMove,
    PartReading,
    facts_model,
)
from inventory.models.planning import count_anew

T = TypeVar("T")

_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook batch reading")
#: How often a number that somebody took at the same moment is tried again.
_TRIES: Final = 3
_AT_ONCE: Final = 500


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

    Writes Parts, the facts of their kind, PartMoves, BatchParts, PartEstimates and
    PartReadings.
    """
    part_ids = _write_parts(incoming)
    BatchPart.objects.bulk_create(
        BatchPart(batch=incoming.batch, part_id=part_id, position=position)
        for position, part_id in enumerate(part_ids, incoming.first_position)
    )
    _write_estimates(incoming, part_ids)
    if len(part_ids) > _AT_ONCE:
        count_anew(
            Part,
            facts_model(incoming.batch.kind),
            PartMove,
            BatchPart,
            PartEstimate,
            PartReading,
        )
    return part_ids


def with_numbers(write: Callable[[], T]) -> T:
    """
    Write something that takes new numbers; again where somebody was quicker.

    The write is a transaction of its own.
    """
    for _try in range(_TRIES):
        try:
            return write()
        except IntegrityError:
            continue
    raise RefusedError(
        code="try_again",
        sentence=_("Others are taking parts in at this moment; try again."),
    )


def reading_id(seed: str, row: int, place: int) -> uuid.UUID:
    """Make the id of a reading out of where it came from."""
    return uuid.uuid5(_IDS, f"{seed}/{row}/{place}")


def _write_parts(incoming: Incoming) -> list[int]:
    checked, act = incoming.checked, incoming.act
    kind = incoming.batch.kind
    places = [
        place
        for place, standing in enumerate(checked.standings)
        if standing.standing is Standing.NEW
    ]
    new = [checked.rows[place] for place in places]
    tags = iter(free_tags(kind, sum(not row.tag for row in new)))
    words = [{**_said_of_all(incoming.batch), **row.words} for row in new]
    parts = Part.objects.bulk_create(
        Part(
            tag=row.tag or next(tags),
            kind=kind,
            name=words_of_row.get("name", ""),
            drawer=words_of_row.get("drawer", ""),
            received_at=act.at,
        )
        for row, words_of_row in zip(new, words, strict=True)
    )
    _write_facts(kind, parts, words)
    note = f"batch {incoming.batch}"
    PartMove.objects.bulk_create(
        PartMove(
            part=part,
            move=Move.RECEIVE,
            at=act.at,
            by=act.by,
            note="; ".join(filter(None, (note, words_of_row.get("note", ""))))[:200],
        )
        for part, words_of_row in zip(parts, words, strict=True)
    )
    made = dict(zip(places, (part.pk for part in parts), strict=True))
    return [
        made[place] if standing.part_id is None else standing.part_id
        for place, standing in enumerate(checked.standings)
    ]


def _said_of_all(batch: Batch) -> dict[str, str]:
    # Before the kinds were declared, words were kept with a blank: “width code”.
    return {word.replace(" ", "_"): text for word, text in batch.words.items()}


def _write_facts(
    kind: PartKind, parts: Sequence[Part], words: Sequence[Mapping[str, str]]
) -> None:
    table, declared = facts_model(kind), KINDS[kind]
    table._default_manager.bulk_create(
        table(part=part, **asdict(declared.read_facts(words_of_row)))
        for part, words_of_row in zip(parts, words, strict=True)
    )


def _write_estimates(incoming: Incoming, part_ids: Sequence[int]) -> None:
    standings = incoming.checked.standings
    new = [
        one
        for one in incoming.checked.estimates
        if standings[one.row].standing is not Standing.SAME
    ]
    taken_at = _taken_at(incoming)
    older = _older(incoming, new, part_ids, taken_at)
    _supersede(incoming, [one for one in new if id(one) not in older], part_ids)
    made = PartEstimate.objects.bulk_create(
        _estimate(
            incoming,
            one,
            part_ids[one.row],
            taken_at=taken_at.get(one.row, incoming.act.at),
            is_older=id(one) in older,
        )
        for one in new
    )
    of = {
        (one.row, one.quantity): estimate
        for one, estimate in zip(new, made, strict=True)
    }
    PartReading.objects.bulk_create(_readings(incoming, of))


def _taken_at(incoming: Incoming) -> dict[int, dt.datetime]:
    """Give the noon of the day on which rows were read, where they say one."""
    of_all = incoming.batch.words.get("read_on", "")
    days = {
        place: row.words.get("read_on") or of_all
        for place, row in enumerate(incoming.checked.rows)
    }
    return {
        place: dt.datetime.fromisoformat(f"{day}T12:00:00+00:00")
        for place, day in days.items()
        if day
    }


def _older(
    incoming: Incoming,
    new: Sequence[BatchEstimate],
    part_ids: Sequence[int],
    taken_at: Mapping[int, dt.datetime],
) -> set[int]:
    """Find what an old list says of parts that have been measured since."""
    standings = incoming.checked.standings
    asked = [
        one
        for one in new
        if one.row in taken_at and standings[one.row].part_id is not None
    ]
    known: dict[tuple[int, str], dt.datetime] = {}
    for start in range(0, len(asked), _AT_ONCE):
        some = {part_ids[one.row] for one in asked[start : start + _AT_ONCE]}
        current = PartEstimate.objects.current().filter(part__in=some)
        for part, quantity, at in current.values_list("part", "quantity", "taken_at"):
            known[part, quantity] = at
    return {
        id(one)
        for one in asked
        if (since := known.get((part_ids[one.row], one.quantity))) is not None
        and since > taken_at[one.row]
    }


def _supersede(
    incoming: Incoming, new: Sequence[BatchEstimate], part_ids: Sequence[int]
) -> None:
    """End the current estimates of parts that were in stock before."""
    standings = incoming.checked.standings
    known = [one for one in new if standings[one.row].part_id is not None]
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


def _estimate(
    incoming: Incoming,
    one: BatchEstimate,
    part_id: int,
    *,
    taken_at: dt.datetime,
    is_older: bool,
) -> PartEstimate:
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
        taken_at=taken_at,
        superseded_at=act.at if is_older else None,
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
