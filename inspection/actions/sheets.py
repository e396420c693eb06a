"""Sheets: putting a car on the block, and what carries over from the last time."""

import datetime as dt
import uuid
from collections.abc import Collection, Iterable

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from inspection.actions.other_hands import refuse_own_car
from inspection.actions.race_nights import lock_entry, move_entry
from inspection.actions.readings import lock_sheet
from inspection.compute.asking import (
    AREA_OF_POSITION,
    Area,
    columns_of_area,
    columns_to_retake,
)
from inspection.compute.night import EntryState, PartPosition, Ruling
from inspection.compute.rulebooks import Stage
from inspection.loaders.block.doubts import doubtful_readings
from inspection.loaders.block.readings import is_struck, load_readings
from inspection.loaders.block.values import parts_on
from inspection.models import (
    Block,
    Car,
    CarValue,
    Entry,
    Finding,
    FittedPart,
    NightClass,
    RaceNight,
    Sheet,
    SheetPart,
    SheetReading,
    SheetRuling,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given
from inventory.compute.roles import Ability
from inventory.models import Person
from inventory.words.enumerations import word_of


@transaction.atomic
def start_sheet(
    entry_id: int,
    *,
    block: Block | None,
    changed: Iterable[Area],
    act: Act,
    paper_at: dt.datetime | None = None,
) -> Sheet:
    """
    Put a car on the block: a new sheet, with what need not be taken again.

    Writes the entry's move, a Sheet, its SheetParts and copies of the readings
    that carry over (none after the race), and marks what was stored of an area
    that was changed as declared; audits ``sheet.started``.  ``paper_at``: when it was
    measured that is typed in from paper.  Raises RefusedError when
    the night is not under way, the car is not waiting (or, after the race, passed) or
    is on a block in another class, no edition is named for its class, or the car is
    that person's own or their family's and others may put it on the block.
    """
    entry = lock_entry(entry_id)
    refuse_own_car(entry, Ability.INSPECT_CARS, act)
    stage = _stage_due(entry)
    _refuse_paper(entry.night, paper_at, act)
    _refuse_second_sheet(entry)
    move_entry(entry, EntryState.ON_BLOCK, act=act)
    sheet = Sheet(entry=entry, stage=stage, block=block, paper_at=paper_at)
    return _make_sheet(sheet, changed=changed, act=act)


def _refuse_paper(night: RaceNight, at: dt.datetime | None, act: Act) -> None:
    if at is not None and not (night.opened_at or act.at) <= at <= act.at:
        raise RefusedError(
            code="paper_time",
            sentence=_(
                "On paper it was measured after %(night)s was opened and before now."
            )
            % {"night": night},
            field="paper_at",
        )


@transaction.atomic
def take_block_over(number: str, *, before: Person, act: Act) -> Sheet:
    """
    Note that somebody goes on with a sheet at the device that another used.

    Writes no row but the audit's ``sheet.taken_over``.  Raises Sheet.DoesNotExist, and
    RefusedError when the sheet is sealed or void, they may not inspect cars, or the
    car is their own and others may.
    """
    sheet = lock_sheet(number)
    if not act.by.may(Ability.INSPECT_CARS):
        raise RefusedError(
            code="may_not_inspect",
            sentence=_("%(by)s does not inspect cars.") % {"by": act.by},
            field="who",
        )
    refuse_own_car(sheet, Ability.INSPECT_CARS, act)
    record_event("sheet.taken_over", subject=sheet, act=act, before=before.pk)
    return sheet


@transaction.atomic
def reopen_car(
    entry_id: int,
    *,
    reason: str,
    block: Block | None,
    act: Act,
    stands: Collection[str] = (),
) -> Sheet:
    """
    Bring a passed car back on the block by the chief's order, with a reason.

    ``stands`` are the columns of the sheet before that stand; all else is read anew,
    at the stage that the sheet before was of.  Writes the entry's move and what
    ``start_sheet`` writes; audits ``entry.reopened``.  Raises RefusedError without a
    reason, when the car has not passed, when something is to stand that was not
    read, or when the car is that person's own or their family's and others may do it.
    """
    reason = reason_given(reason)
    entry = lock_entry(entry_id)
    refuse_own_car(entry, Ability.REOPEN_CARS, act)
    if entry.state != EntryState.PASSED:
        raise RefusedError(
            code="not_passed",
            sentence=_(
                "Car %(entry)s is “%(state)s”; only a car that passed is reopened."
            )
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    move_entry(entry, EntryState.ON_BLOCK, act=act, reason=reason)
    record_event("entry.reopened", subject=entry, act=act, reason=reason)
    before = last_counting(entry)
    _refuse_unread(before, stands)
    stage = before.stage if before else Stage.BEFORE
    return _make_sheet(
        Sheet(entry=entry, stage=stage, block=block),
        changed=(),
        stands=frozenset(stands),
        act=act,
    )


def _refuse_unread(before: Sheet | None, stands: Collection[str]) -> None:
    read = SheetReading.objects.filter(sheet=before, strike=None)
    if missing := sorted(set(stands) - set(read.values_list("column", flat=True))):
        raise RefusedError(
            code="nothing_to_stand",
            sentence=_("Nothing was read of %(list)s that could stand.")
            % {"list": ", ".join(missing)},
            field="stands",
        )


def last_counting(entry: Entry) -> Sheet | None:
    """Give an entry's last sheet that is not void."""
    return Sheet.objects.counting().filter(entry=entry).order_by("-id").first()


def _stage_due(entry: Entry) -> Stage:
    """After the race what has passed is due, also when it was taken off meanwhile."""
    last = entry.sheets.select_related("void").order_by("-id").first()
    was_due_after = last is not None and last.is_void and last.stage == Stage.AFTER
    if entry.state == EntryState.PASSED or was_due_after:
        return Stage.AFTER
    return Stage.BEFORE


def _make_sheet(
    sheet: Sheet,
    *,
    changed: Iterable[Area],
    act: Act,
    stands: frozenset[str] | None = None,
) -> Sheet:
    """Write a sheet of which is said whose it is, at which stage, and where."""
    entry = sheet.entry
    if entry.night.opened_at is None or entry.night.closed_at is not None:
        raise RefusedError(
            code="night_not_open",
            sentence=_("%(night)s is not open.") % {"night": entry.night},
        )
    named = NightClass.objects.filter(night=entry.night, race_class=entry.race_class)
    night_class = named.select_related("edition").first()
    if night_class is None:
        raise RefusedError(
            code="class_not_tonight",
            sentence=_("No edition is named for %(race_class)s tonight.")
            % {"race_class": entry.race_class},
        )
    _refuse_two_blocks(entry)
    sheet.previous = previous = last_counting(entry)
    sheet.number, sheet.edition = _next_number(entry.night), night_class.edition
    sheet.started_at, sheet.started_by = act.at, act.by
    sheet.save(force_insert=True)
    parts = _note_parts(sheet)
    _unprove_changed(entry.car_id, changed)
    if previous is not None and stands is not None:
        _unprove_read(previous, stands)
    # After the race nothing carries, but what the chief says stands of that sheet.
    if previous is not None and (sheet.stage == Stage.BEFORE or stands is not None):
        areas = {*changed, *_exchanged(previous, parts)}
        _carry_over(sheet, previous, areas, stands)
    record_event("sheet.started", subject=sheet, act=act)
    return sheet


def _refuse_second_sheet(entry: Entry) -> None:
    """Say who has a car on which block, where it is on one already."""
    opened = Sheet.objects.open().filter(entry=entry)
    sheet = opened.select_related("block", "started_by").first()
    if sheet is None:
        return
    where = (
        _("the block “%(block)s”") % {"block": sheet.block}
        if sheet.block
        else _("the block")
    )
    raise RefusedError(
        code="car_on_block",
        sentence=_(
            "%(started_by)s has car %(entry)s on %(where)s: open its sheet, %(sheet)s."
        )
        % {
            "started_by": sheet.started_by,
            "entry": entry.number,
            "where": where,
            "sheet": sheet.number,
        },
    )


def _refuse_two_blocks(entry: Entry) -> None:
    # The car's row is locked: it may be entered in two classes.
    Car.objects.select_for_update().get(pk=entry.car_id)
    elsewhere = Sheet.objects.open().filter(entry__car=entry.car_id)
    if other := elsewhere.select_related("entry__race_class").first():
        raise RefusedError(
            code="car_on_block",
            sentence=_(
                "Car %(entry)s is on the block already, in %(race_class)s: sheet "
                "%(other)s."
            )
            % {
                "entry": entry.number,
                "race_class": other.entry.race_class,
                "other": other.number,
            },
        )


def _unprove_changed(car_id: int, changed: Iterable[Area]) -> None:
    """Let what was stored of a changed area prove nothing until it is read again."""
    columns = [column for area in changed for column in columns_of_area(area)]
    if columns:
        stored = CarValue.objects.current().filter(car=car_id, column__in=columns)
        stored.update(is_declared=True)


def _unprove_read(previous: Sheet, stands: Collection[str]) -> None:
    """Let what a sheet read, and does not stand, prove nothing as the car's own."""
    read = SheetReading.objects.filter(sheet=previous).exclude(column__in=stands)
    told = read.filter(column=OuterRef("column"), taken_at=OuterRef("taken_at"))
    stored = CarValue.objects.current().filter(Exists(told), car=previous.entry.car_id)
    stored.update(is_declared=True)


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
    return {row.position: row.part_id for row in rows}


def _exchanged(previous: Sheet, parts: dict[PartPosition, int]) -> set[Area]:
    before = parts_on(previous)
    return {
        AREA_OF_POSITION[position]
        for position in {*before, *parts}
        if before.get(position) != parts.get(position)
    }


def _carry_over(
    sheet: Sheet, previous: Sheet, areas: set[Area], stands: frozenset[str] | None
) -> None:
    if SheetRuling.objects.filter(sheet=previous, ruling=Ruling.VOID).exists():
        return
    refused = Finding.objects.filter(sheet=previous, is_admitted=False)
    again = columns_to_retake(
        # What the chief says stands does so; but not of a part that was exchanged.
        refused.values_list("rule__quantity", flat=True) if stands is None else (),
        areas=areas,
        carrier=sheet.entry.car.front_carrier,
    )
    doubtful = set(
        doubtful_readings().filter(sheet=previous).values_list("pk", flat=True)
    )
    SheetReading.objects.bulk_create(
        _copy(reading, sheet)
        for reading in load_readings(previous)
        if reading.column not in again
        and (stands is None or reading.column in stands)
        and not is_struck(reading)
        and reading.pk not in doubtful
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
        clock_said=reading.clock_said,
        was_asked_about=reading.was_asked_about,
        is_own_car=reading.is_own_car,
        carried_from=reading,
    )
