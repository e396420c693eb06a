"""Readings on the block: taking one, asking about a strange one, striking one."""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from inspection.actions.block.typed import (
    Parsed,
    between_slips,
    millionths_of,
    need_answer,
)
from inspection.actions.other_hands import refuse_own_car, refuse_same_hands
from inspection.compute.night import EntryState, ReadingKind
from inspection.compute.quantities import Kind, Quantity
from inspection.compute.rulebooks import Answer
from inspection.loaders.block.doubts import doubts_of
from inspection.loaders.block.known import (
    KnownOfColumn,
    kin_of_column,
    known_of_column,
)
from inspection.loaders.block.readings import load_readings
from inspection.loaders.block.sheets import (
    asked_of,
    inputs_of_rules,
    quantity_of,
    readings_asked,
    sheet_of_number,
    takeable_of,
)
from inspection.loaders.rulebooks.editions import load_edition
from inspection.models import Sheet, SheetReading, Strike
from inspection.words.quantities import quantity_name
from inventory.actions.audit import Act, record_event
from inventory.actions.gauges import gauge_missing, refuse_gauge
from inventory.actions.refusals import RefusedError
from inventory.compute.numbers import MILLION, find_strange, from_millionths
from inventory.compute.roles import Ability
from inventory.loaders.gauges import LoadedGauge, load_gauge, load_gauges
from inventory.loaders.prepared import STAND_IN_NAME, Prepared
from inventory.words.enumerations import word_of
from inventory.words.strange import question_words

#: A device's clock that differs by more is wrong: the server's counts.
CLOCKS_DIFFER = dt.timedelta(days=1)


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
    #: The device's time as it came, where it is no time at all.
    clock_said: str = ""
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


def take_reading(number: str, typed: TypedReading, *, act: Act) -> Taken:
    """
    Write one reading on an open sheet, or ask about it first.

    Writes a SheetReading; no audit row, the reading is its own record.  Raises
    RefusedError when the sheet is sealed, the car is that person's own or their
    family's and others may measure it, the rulebook does not ask the quantity, the
    text is no value, the gauge may not be used, or another sheet has a reading of
    that id.
    """
    try:
        return _take(number, typed, act)
    except IntegrityError as error:
        elsewhere = Sheet.objects.filter(readings__reading_id=typed.reading_id)
        sheet = elsewhere.exclude(number=number).first()
        if sheet is None:
            raise
        raise RefusedError(
            code="reading_id_taken",
            sentence=_(
                "Sheet %(sheet)s has a reading of this number already; send it again "
                "if it is another one."
            )
            % {"sheet": sheet},
        ) from error


@transaction.atomic
def take_looks(number: str, looks: Sequence[TypedReading], *, act: Act) -> list[Taken]:
    """
    Write what was looked at and answered together, each as a reading of its own.

    Writes a SheetReading for each, or none; no audit row.  Raises RefusedError as
    ``take_reading`` does.
    """
    return [take_reading(number, look, act=act) for look in looks]


@transaction.atomic
def _take(number: str, typed: TypedReading, act: Act) -> Taken:
    sheet = lock_sheet(number)
    readings = load_readings(sheet, sheet.previous_id)
    own = [reading for reading in readings if reading.sheet_id == sheet.pk]
    for reading in own:
        if reading.reading_id == typed.reading_id:
            return Taken(sheet=sheet, readings=own, reading=reading)
    is_own_car = refuse_own_car(sheet, Ability.INSPECT_CARS, act)
    _refuse_unasked(sheet, typed.column)
    quantity = quantity_of(typed.column)
    parsed = _parse(typed, quantity)
    gauge = _gauge_for(typed, quantity, act)
    taken_at, clock_said = _moment(typed, act)
    if sheet.is_for_protest:
        before = [one for one in readings if one.sheet_id == sheet.previous_id]
        concerned = sheet.concerned
        refuse_same_hands(before, typed.column, gauge, concerned=concerned, act=act)
    if not typed.is_confirmed:
        question = _question(sheet, parsed, typed.column, readings)
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
        taken_at=taken_at,
        received_at=act.at,
        clock_said=clock_said,
        was_asked_about=typed.is_confirmed,
        is_own_car=is_own_car,
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
    reason, when it is struck already, when the sheet is sealed, or when the car is
    that person's own or their family's and others may measure it.
    """
    sheet = lock_sheet(number)
    refuse_own_car(sheet, Ability.INSPECT_CARS, act)
    if not reason.strip():
        raise RefusedError(
            code="reason_missing",
            sentence=_("Say why the reading is struck."),
            field="reason",
        )
    reading = SheetReading.objects.filter(sheet=sheet, pk=reading_id).first()
    if reading is None:
        raise RefusedError(
            code="reading_unknown", sentence=_("This sheet has no such reading.")
        )
    if Strike.objects.filter(reading=reading).exists():
        raise RefusedError(
            code="struck_already",
            sentence=_("“%(reading)s” is struck already.") % {"reading": reading.text},
        )
    strike = Strike.objects.create(
        reading=reading, by=act.by, at=act.at, reason=reason.strip()
    )
    record_event(
        "reading.struck", subject=sheet, act=act, reading=reading.pk, reason=reason
    )
    return strike


@transaction.atomic
def strike_doubtful(number: str, check_id: int, *, act: Act) -> list[Strike]:
    """
    Strike what a gauge read before it failed a check, all of it on an open sheet.

    Writes a Strike each; audits ``reading.struck``.  Raises RefusedError when the
    sheet is sealed or void, no reading on it is in doubt by that check, or the car is
    that person's own or their family's and others may measure it.
    """
    sheet = lock_sheet(number)
    refuse_own_car(sheet, Ability.INSPECT_CARS, act)
    doubts = (doubt for doubt in doubts_of(sheet.pk).get(sheet.pk, ()))
    doubt = next((one for one in doubts if one.check_id == check_id), None)
    if doubt is None:
        raise RefusedError(
            code="not_in_doubt",
            sentence=_("Nothing on sheet %(sheet)s is in doubt by that check.")
            % {"sheet": sheet.number},
        )
    reason = f"{doubt.gauge} failed its next check"
    strikes = Strike.objects.bulk_create(
        Strike(reading_id=pk, by=act.by, at=act.at, reason=reason)
        for pk in doubt.reading_ids
    )
    for pk in doubt.reading_ids:
        record_event(
            "reading.struck", subject=sheet, act=act, reading=pk, reason=reason
        )
    return strikes


def _locked(number: str) -> "QuerySet[Sheet, Any]":
    return Sheet.objects.select_for_update().filter(number=number).values("pk")


_LOCKED: Final[Prepared[dict[str, Any]]] = Prepared(_locked, STAND_IN_NAME)


def lock_sheet(number: str) -> Sheet:
    """
    Read an open sheet for a write, so that a seal and a reading cannot cross.

    Raises Sheet.DoesNotExist, and RefusedError when it is sealed or void, or the
    car is off the block.
    """
    # Locked first and read afterwards: a row that is joined while PostgreSQL waits
    # for the lock is as it was before, and a seal put meanwhile would not be seen.
    if not _LOCKED.rows(number):
        raise Sheet.DoesNotExist
    sheet = sheet_of_number(number)
    if sheet is None:
        raise Sheet.DoesNotExist
    if sheet.is_sealed:
        raise RefusedError(
            code="sheet_sealed",
            sentence=_(
                "Sheet %(sheet)s was sealed by %(sealed_by)s; nothing can be added."
            )
            % {"sheet": sheet.number, "sealed_by": sheet.seal.sealed_by},
        )
    if sheet.is_void:
        raise RefusedError(
            code="sheet_void",
            sentence=_(
                "Sheet %(sheet)s was taken off the block by %(by)s (%(reason)s); "
                "nothing can be added."
            )
            % {"sheet": sheet.number, "by": sheet.void.by, "reason": sheet.void.reason},
        )
    if sheet.entry.state != EntryState.ON_BLOCK:
        raise RefusedError(
            code="not_on_block",
            sentence=_("Car %(entry)s is “%(state)s”, not on the block.")
            % {"entry": sheet.entry.number, "state": word_of(sheet.entry.state)},
        )
    return sheet


def _refuse_unasked(sheet: Sheet, column: str) -> None:
    rules = asked_of(load_edition(sheet.edition), sheet)
    asked = readings_asked(rules, sheet)
    # What a rule would derive may be taken too: a slip under the car beats a sum.
    may_be_taken = {*asked.tonight, *asked.stored, *takeable_of(rules, asked)}
    if column not in may_be_taken and column not in inputs_of_rules(rules, sheet):
        raise RefusedError(
            code="not_asked",
            sentence=_("%(edition)s does not ask “%(column)s” of this car.")
            % {"edition": sheet.edition, "column": column},
            field="column",
        )


def _parse(typed: TypedReading, quantity: Quantity) -> Parsed:
    if quantity.kind is Kind.LOOKED_AT:
        need_answer(typed.answer, quantity)
        return Parsed(kind=ReadingKind.LOOK, text=typed.answer or "")
    first, mark = millionths_of(typed.text, quantity, field="text")
    if quantity.kind is Kind.COUNTED:
        if first % MILLION:
            raise RefusedError(
                code="not_a_count",
                sentence=_("%(label)s: “%(typed)s” is not a whole number.")
                % {"label": quantity_name(quantity), "typed": typed.text},
                field="text",
            )
        return Parsed(kind=ReadingKind.COUNT, text=typed.text, value=first)
    if typed.answer is not None:
        text = f"{typed.text} {'goes' if typed.answer is Answer.YES else 'stops'}"
        return Parsed(kind=ReadingKind.GO_GAUGE, text=text, mark=mark, value=first)
    if typed.high_text.strip():
        high, _unit = millionths_of(typed.high_text, quantity, field="high_text")
        return between_slips(
            (typed.text, typed.high_text), quantity, (first, high), mark
        )
    return Parsed(kind=ReadingKind.VALUE, text=typed.text, mark=mark, value=first)


def _moment(typed: TypedReading, act: Act) -> tuple[dt.datetime, str]:
    """Give when it was taken, and what the device said if that cannot be."""
    if typed.taken_at is None:
        return act.at, typed.clock_said[:40]
    if abs(typed.taken_at - act.at) > CLOCKS_DIFFER:
        return act.at, typed.taken_at.isoformat()[:40]
    return typed.taken_at, ""


def _gauge_for(typed: TypedReading, quantity: Quantity, act: Act) -> LoadedGauge | None:
    if quantity.kind in {Kind.LOOKED_AT, Kind.COUNTED}:
        return None
    if typed.gauge_mode_id is None:
        of_unit = load_gauges(act.at, unit=quantity.unit)
        raise gauge_missing(of_unit, of=quantity_name(quantity))
    gauge = load_gauge(typed.gauge_mode_id, now=act.at)
    if gauge is None:
        raise RefusedError(
            code="gauge_unknown", sentence=_("There is no such gauge."), field="gauge"
        )
    refuse_gauge(gauge, unit=quantity.unit, of=quantity_name(quantity))
    return gauge


def _question(
    sheet: Sheet, parsed: Parsed, column: str, readings: list[SheetReading]
) -> Question | None:
    quantity = quantity_of(column)
    known = KnownOfColumn()
    if parsed.kind is ReadingKind.VALUE:
        known = known_of_column(sheet, column, readings)
    kin = kin_of_column(sheet, column)
    sizes = (parsed.value, parsed.low, parsed.high)
    for size in (from_millionths(one) for one in sizes if one is not None):
        odd = find_strange(
            size,
            unit=quantity.unit,
            plausible=(quantity.low, quantity.high),
            beside=known.beside,
            elsewhere=known.elsewhere,
            kin=kin,
        )
        if odd is not None:
            places = quantity.decimals
            asked = question_words(odd, parsed.text, decimals=places)
            return Question(
                sentence=_("%(quantity)s: %(question)s")
                % {"quantity": quantity_name(quantity), "question": asked},
                suggestion=odd.meant_text(places),
            )
    return None
