"""Sheets: putting a car on the block, and what carries over from the last time."""

import uuid
from collections.abc import Iterable

from django.db import transaction

from inspection.actions.race_nights import lock_entry, move_entry
from inspection.compute.entries import EntryState, PartPosition
from inspection.compute.quantity import FrontCarrier
from inspection.compute.recheck import AREA_OF_POSITION, Area, columns_to_retake
from inspection.compute.requirements import Stage
from inspection.loaders.values import is_struck, load_readings
from inspection.models import (
    Block,
    Entry,
    Finding,
    FittedPart,
    NightClass,
    RaceNight,
    Sheet,
    SheetPart,
    SheetReading,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@transaction.atomic
def start_sheet(
    entry_id: int, *, block: Block | None, changed: Iterable[Area], act: Act
) -> Sheet:
    """
    Put a car on the block: a new sheet, with what need not be taken again.

    Writes the entry's move, a Sheet, its SheetParts and copies of the readings
    that carry over; audits ``sheet.started``.  Raises RefusedError when the
    night is not under way, the car is not waiting (or, after the race, passed),
    or no edition is named for its class.
    """
    entry = lock_entry(entry_id)
    stage = Stage.AFTER if entry.state == EntryState.PASSED else Stage.BEFORE
    move_entry(entry, EntryState.ON_BLOCK, act=act)
    return _make_sheet(entry, stage=stage, block=block, changed=changed, act=act)


@transaction.atomic
def reopen_car(entry_id: int, *, reason: str, block: Block | None, act: Act) -> Sheet:
    """
    Bring a passed car back on the block by the chief's order, with a reason.

    Writes the entry's move and what ``start_sheet`` writes; audits
    ``entry.reopened``.  Raises RefusedError without a reason.
    """
    if len(reason.strip()) < 10:
        raise RefusedError(
            code="reason_missing",
            sentence=f"“{reason}” is no reason; give one of ten characters or more.",
            field="reason",
        )
    entry = lock_entry(entry_id)
    move_entry(entry, EntryState.ON_BLOCK, act=act, reason=reason.strip())
    record_event("entry.reopened", subject=entry, act=act, reason=reason.strip())
    return _make_sheet(entry, stage=Stage.BEFORE, block=block, changed=(), act=act)


def _make_sheet(
    entry: Entry,
    *,
    stage: Stage,
    block: Block | None,
    changed: Iterable[Area],
    act: Act,
) -> Sheet:
    if entry.night.opened_at is None or entry.night.closed_at is not None:
        raise RefusedError(
            code="night_not_open", sentence=f"{entry.night} is not open."
        )
    named = NightClass.objects.filter(night=entry.night, race_class=entry.race_class)
    night_class = named.select_related("edition").first()
    if night_class is None:
        raise RefusedError(
            code="class_not_tonight",
            sentence=f"No edition is named for {entry.race_class} tonight.",
        )
    previous = entry.sheets.order_by("-id").first()
    sheet = Sheet.objects.create(
        number=_next_number(entry.night),
        entry=entry,
        edition=night_class.edition,
        stage=stage,
        block=block,
        previous=previous,
        started_at=act.at,
        started_by=act.by,
    )
    parts = _note_parts(sheet)
    if previous is not None:
        _carry_over(sheet, previous, {*changed, *_exchanged(previous, parts)})
    record_event("sheet.started", subject=sheet, act=act)
    return sheet


def _next_number(night: RaceNight) -> str:
    # The night's row is the queue for its numbers.
    RaceNight.objects.select_for_update().get(pk=night.pk)
    count = Sheet.objects.filter(entry__night=night).count()
    return f"{night.date:%Y%m%d}-{night.pk}-{count + 1:03}"


def _note_parts(sheet: Sheet) -> dict[PartPosition, int]:
    fitted = FittedPart.objects.filter(car=sheet.entry.car, removed_at=None)
    rows = SheetPart.objects.bulk_create(
        SheetPart(sheet=sheet, position=one.position, part_id=one.part_id)
        for one in fitted
    )
    return {PartPosition(row.position): row.part_id for row in rows}


def _exchanged(previous: Sheet, parts: dict[PartPosition, int]) -> set[Area]:
    rows = SheetPart.objects.filter(sheet=previous)
    before = {PartPosition(row.position): row.part_id for row in rows}
    return {
        AREA_OF_POSITION[position]
        for position in {*before, *parts}
        if before.get(position) != parts.get(position)
    }


def _carry_over(sheet: Sheet, previous: Sheet, areas: set[Area]) -> None:
    refused = Finding.objects.filter(sheet=previous, is_admitted=False)
    again = columns_to_retake(
        refused.values_list("rule__quantity", flat=True),
        areas=areas,
        carrier=FrontCarrier(sheet.entry.car.front_carrier),
        after_race=sheet.stage == Stage.AFTER,
    )
    SheetReading.objects.bulk_create(
        _copy(reading, sheet)
        for reading in load_readings(previous)
        if reading.column not in again and not is_struck(reading)
    )


def _copy(reading: SheetReading, sheet: Sheet) -> SheetReading:
    # The copy's id follows from what it copies: carrying over twice is refused.
    name = f"{sheet.number}/{reading.reading_id}"
    return SheetReading(
        sheet=sheet,
        reading_id=uuid.uuid5(reading.reading_id, name),
        column=reading.column,
        kind=reading.kind,
        value=reading.value,
        low=reading.low,
        high=reading.high,
        answer=reading.answer,
        text=reading.text,
        unit_typed=reading.unit_typed,
        gauge_mode=reading.gauge_mode,
        gauge_check=reading.gauge_check,
        by=reading.by,
        taken_at=reading.taken_at,
        received_at=reading.received_at,
        was_asked_about=reading.was_asked_about,
        carried_from=reading,
    )
