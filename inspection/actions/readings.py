"""Readings on the block: taking one, asking about a strange one, striking one."""

import datetime as dt
import math
import uuid
from dataclasses import dataclass

from django.db import transaction

from inspection.compute.entries import EntryState, ReadingKind
from inspection.compute.quantities import Kind, Quantity
from inspection.compute.requirements import Answer
from inspection.loaders.rulebooks import load_edition
from inspection.loaders.sheets import (
    asked_of,
    quantity_of,
    readings_asked,
    sheets_to_load,
    takeable_of,
)
from inspection.loaders.values import load_readings, values_of_readings
from inspection.models import Sheet, SheetReading, Strike
from inventory.actions.audit import Act, record_event
from inventory.actions.gauges import refuse_gauge
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import differs_from_last, slip_of_the_decimal
from inventory.compute.units import Unit, parse_reading
from inventory.loaders.gauges import LoadedGauge, load_gauges


@dataclass(frozen=True, kw_only=True)
class TypedReading:
    """A reading as it was typed; ``reading_id`` is made where it was typed."""

    reading_id: uuid.UUID
    column: str
    text: str = ""
    high_text: str = ""
    answer: Answer | None = None
    gauge_mode_id: int | None = None
    taken_at: dt.datetime | None = None
    is_confirmed: bool = False


@dataclass(frozen=True, kw_only=True)
class Question:
    """A reading that is asked about before it is written; nothing was written."""

    sentence: str
    suggestion: str


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What became of a typed reading: written, there already, or asked about."""

    sheet: Sheet
    readings: list[SheetReading]
    reading: SheetReading | None
    question: Question | None = None
    warning: str = ""


@dataclass(frozen=True, kw_only=True)
class _Parsed:
    """A typed reading turned into what its row holds."""

    kind: ReadingKind
    text: str
    mark: str = ""
    value: int | None = None
    low: int | None = None
    high: int | None = None


@transaction.atomic
def take_reading(number: str, typed: TypedReading, *, act: Act) -> Taken:
    """
    Write one reading on an open sheet, or ask about it first.

    Writes a SheetReading; no audit row, the reading is its own record.  Raises
    RefusedError when the sheet is sealed, the rulebook does not ask the
    quantity, the text is no value, or the gauge may not be used.
    """
    sheet = lock_sheet(number)
    readings = load_readings(sheet, sheet.previous_id)
    own = [reading for reading in readings if reading.sheet_id == sheet.pk]
    for reading in own:
        if reading.reading_id == typed.reading_id:
            return Taken(sheet=sheet, readings=own, reading=reading)
    _refuse_unasked(sheet, typed.column)
    quantity = quantity_of(typed.column)
    parsed = _parse(typed, quantity)
    gauge = _gauge_for(typed, quantity, act)
    if not typed.is_confirmed:
        question = _question(parsed, typed.column, quantity, readings)
        if question is not None:
            return Taken(sheet=sheet, readings=own, reading=None, question=question)
    reading = SheetReading.objects.create(
        sheet=sheet,
        reading_id=typed.reading_id,
        column=typed.column,
        kind=parsed.kind,
        value=parsed.value,
        low=parsed.low,
        high=parsed.high,
        answer=typed.answer or "",
        text=parsed.text,
        unit_typed=parsed.mark,
        gauge_mode=gauge.mode if gauge else None,
        gauge_check=gauge.check if gauge else None,
        by=act.by,
        taken_at=typed.taken_at or act.at,
        received_at=act.at,
        was_asked_about=typed.is_confirmed,
    )
    # A new row has no strike; saying so saves the query that would look for one.
    SheetReading._meta.get_field("strike").set_cached_value(reading, None)
    return Taken(
        sheet=sheet,
        readings=[*own, reading],
        reading=reading,
        warning=str(gauge.standing) if gauge else "",
    )


@transaction.atomic
def strike_reading(number: str, reading_id: int, *, reason: str, act: Act) -> Strike:
    """
    Strike a reading from an open sheet, with a reason; the reading stays.

    Writes a Strike; audits ``reading.struck``.  Raises RefusedError without a
    reason, when it is struck already, or when the sheet is sealed.
    """
    sheet = lock_sheet(number)
    if not reason.strip():
        raise RefusedError(
            code="reason_missing",
            sentence="Say why the reading is struck.",
            field="reason",
        )
    reading = SheetReading.objects.filter(sheet=sheet, pk=reading_id).first()
    if reading is None:
        raise RefusedError(
            code="reading_unknown", sentence="This sheet has no such reading."
        )
    if Strike.objects.filter(reading=reading).exists():
        raise RefusedError(
            code="struck_already", sentence=f"“{reading.text}” is struck already."
        )
    strike = Strike.objects.create(
        reading=reading, by=act.by, at=act.at, reason=reason.strip()
    )
    record_event(
        "reading.struck", subject=sheet, act=act, reading=reading.pk, reason=reason
    )
    return strike


def lock_sheet(number: str) -> Sheet:
    """
    Read an open sheet for a write, so that a seal and a reading cannot cross.

    Raises Sheet.DoesNotExist, and RefusedError when it is sealed or the car is
    off the block.
    """
    # Locked first and read afterwards: a row that is joined while PostgreSQL waits
    # for the lock is as it was before, and a seal put meanwhile would not be seen.
    Sheet.objects.select_for_update().get(number=number)
    sheet = sheets_to_load().get(number=number)
    if sheet.is_sealed:
        raise RefusedError(
            code="sheet_sealed",
            sentence=f"Sheet {sheet.number} was sealed by {sheet.seal.sealed_by}; "
            "nothing can be added.",
        )
    if sheet.entry.state != EntryState.ON_BLOCK:
        raise RefusedError(
            code="not_on_block",
            sentence=f"Car {sheet.entry.car.number} is “{sheet.entry.state}”, "
            "not on the block.",
        )
    return sheet


def _refuse_unasked(sheet: Sheet, column: str) -> None:
    rules = asked_of(load_edition(sheet.edition), sheet)
    asked = readings_asked(rules, sheet)
    # What a rule would derive may be taken too: a slip under the car beats a sum.
    if column not in {*asked.tonight, *asked.stored, *takeable_of(rules, asked)}:
        raise RefusedError(
            code="not_asked",
            sentence=f"{sheet.edition} does not ask “{column}” of this car.",
            field="column",
        )


def _parse(typed: TypedReading, quantity: Quantity) -> _Parsed:
    if quantity.kind is Kind.LOOKED_AT:
        _need_answer(typed, quantity)
        return _Parsed(kind=ReadingKind.LOOK, text=typed.answer or "")
    first, mark = _millionths(typed.text, quantity, field="text")
    if quantity.kind is Kind.COUNTED:
        if first % 1_000_000:
            raise RefusedError(
                code="not_a_count",
                sentence=f"{quantity.label}: “{typed.text}” is not a whole number.",
                field="text",
            )
        return _Parsed(kind=ReadingKind.COUNT, text=typed.text, value=first)
    if typed.answer is not None:
        text = f"{typed.text} {'goes' if typed.answer is Answer.YES else 'stops'}"
        return _Parsed(kind=ReadingKind.GO_GAUGE, text=text, mark=mark, value=first)
    if typed.high_text.strip():
        high, _ = _millionths(typed.high_text, quantity, field="high_text")
        return _interval(typed, quantity, first, high, mark)
    return _Parsed(kind=ReadingKind.VALUE, text=typed.text, mark=mark, value=first)


def _interval(
    typed: TypedReading, quantity: Quantity, low: int, high: int, mark: str
) -> _Parsed:
    if low > high:
        raise RefusedError(
            code="interval_backwards",
            sentence=f"{quantity.label}: the slip that goes, “{typed.text}”, is "
            f"thicker than the one that stops, “{typed.high_text}”.",
            field="high_text",
        )
    text = f"{typed.text.strip()} to {typed.high_text.strip()}"
    return _Parsed(
        kind=ReadingKind.INTERVAL, text=text[:40], mark=mark, low=low, high=high
    )


def _millionths(text: str, quantity: Quantity, *, field: str) -> tuple[int, str]:
    try:
        number = parse_reading(text, unit=quantity.unit)
    except ComputeError as error:
        raise RefusedError(
            code=error.code, sentence=f"{quantity.label}: {error}", field=field
        ) from error
    return number.millionths, number.mark


def _need_answer(typed: TypedReading, quantity: Quantity) -> None:
    if typed.answer is None:
        raise RefusedError(
            code="answer_missing",
            sentence=f"{quantity.label}: answer yes or no.",
            field="answer",
        )


def _gauge_for(typed: TypedReading, quantity: Quantity, act: Act) -> LoadedGauge | None:
    if quantity.kind in {Kind.LOOKED_AT, Kind.COUNTED}:
        return None
    if typed.gauge_mode_id is None:
        raise RefusedError(
            code="gauge_missing",
            sentence=f"{quantity.label}: say which gauge it was taken with.",
            field="gauge",
        )
    found = load_gauges(act.at, pk=typed.gauge_mode_id)
    if not found:
        raise RefusedError(
            code="gauge_unknown", sentence="There is no such gauge.", field="gauge"
        )
    gauge = found[0]
    refuse_gauge(gauge, unit=quantity.unit, of=quantity.label)
    return gauge


def _question(
    parsed: _Parsed,
    column: str,
    quantity: Quantity,
    readings: list[SheetReading],
) -> Question | None:
    for size in (parsed.value, parsed.low, parsed.high):
        if size is None:
            continue
        value = size / 1e6
        if not quantity.low <= value <= quantity.high:
            return _implausible(parsed.text, value, quantity)
        last = values_of_readings(r for r in readings if r.column == column)
        if parsed.kind is ReadingKind.VALUE and column in last:
            before = last[column]
            u_value = math.hypot(before.random, before.systematic)
            if quantity.unit is Unit.MILLIMETRE and differs_from_last(
                value, last=before.value, standard_uncertainty=u_value
            ):
                return Question(
                    sentence=f"{quantity.label}: “{parsed.text}”; the last reading of "
                    f"this car was {before.value:.{quantity.decimals}f} "
                    f"{quantity.unit}. Is it right?",
                    suggestion="",
                )
    return None


def _implausible(text: str, value: float, quantity: Quantity) -> Question:
    meant = slip_of_the_decimal(
        value, low=quantity.low, high=quantity.high, unit=quantity.unit
    )
    asked = "" if meant is None else f" Was it {meant:.{quantity.decimals}f}?"
    return Question(
        sentence=f"{quantity.label}: “{text}” is outside {quantity.low:g} to "
        f"{quantity.high:g} {quantity.unit}.{asked}",
        suggestion="" if meant is None else f"{meant:.{quantity.decimals}f}",
    )
