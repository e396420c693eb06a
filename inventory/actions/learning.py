"""What a sheet elsewhere has read of parts goes into their history."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.db.models import Q

from inventory.actions.audit import Act
from inventory.compute.stock import PartQuantity
from inventory.models import PartEstimate, PartReading, Person

_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook learned reading")


@dataclass(frozen=True, kw_only=True)
class LearnedReading:
    """One value as it was read elsewhere, with the id that it has there."""

    reading_id: uuid.UUID
    value: int
    text: str
    unit_typed: str


@dataclass(frozen=True, kw_only=True)
class LearnedEstimate:
    """What a set of readings elsewhere says of a part, in millionths."""

    part_id: int
    quantity: PartQuantity
    value: int
    random: int
    systematic: int
    gauge_mode_id: int | None
    gauge_check_id: int | None
    by: Person
    readings: tuple[LearnedReading, ...]


@transaction.atomic
def learn_estimates(
    learned: Sequence[LearnedEstimate], *, source: str, act: Act
) -> list[PartEstimate]:
    """
    Record what a sheet read of parts, so that a worn one is known by its new size.

    Writes a PartEstimate a set (the current one is superseded) and a
    PartReading a reading, its id derived from the reading's own; no audit row,
    the sheet named in ``source`` is the record.
    """
    if not learned:
        return []
    superseded = Q()
    for one in learned:
        superseded |= Q(part=one.part_id, quantity=one.quantity)
    PartEstimate.objects.current().filter(superseded).update(superseded_at=act.at)
    made = PartEstimate.objects.bulk_create(
        _estimate(one, source, act) for one in learned
    )
    PartReading.objects.bulk_create(
        PartReading(
            estimate=estimate,
            reading_id=uuid.uuid5(_IDS, str(reading.reading_id)),
            value=reading.value,
            text=reading.text,
            unit_typed=reading.unit_typed,
            angle_index=place,
        )
        for estimate, one in zip(made, learned, strict=True)
        for place, reading in enumerate(one.readings)
    )
    return made


def _estimate(one: LearnedEstimate, source: str, act: Act) -> PartEstimate:
    return PartEstimate(
        part_id=one.part_id,
        quantity=one.quantity,
        value=one.value,
        random=one.random,
        systematic=one.systematic,
        count=len(one.readings),
        gauge_mode_id=one.gauge_mode_id,
        gauge_check_id=one.gauge_check_id,
        taken_at=act.at,
        by=one.by,
        source=source,
    )
