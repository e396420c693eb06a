"""Race nights: setting one up, entering cars, and moving entries about."""

import datetime as dt
from collections.abc import Mapping

from django.db import IntegrityError, transaction
from django.db.models import Prefetch
from django.utils.translation import gettext as _

from inspection.actions.known_moves import refuse_unknown_move
from inspection.actions.night_sums import keep_night_sums
from inspection.actions.setting_up.nights import (
    check_editions,
    refuse_same_night,
    same_night,
)
from inspection.compute.night import EntryState, state_after_undoing
from inspection.models import (
    Car,
    Edition,
    Entry,
    EntryMove,
    NightClass,
    RaceClass,
    RaceNight,
    Sheet,
    SheetVoid,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.models import Person
from inventory.models.planning import look_at_tables
from inventory.words.enumerations import word_of


@transaction.atomic
def plan_night(
    *,
    name: str,
    date: dt.date,
    place: str,
    editions: Mapping[RaceClass, Edition],
    act: Act,
    list_closes_at: dt.datetime | None = None,
) -> RaceNight:
    """
    Set up a race night with the edition that each class races by.

    Writes a RaceNight and a NightClass a class; audits ``night.planned``.
    Raises RefusedError when an edition is a draft or of another rulebook, when no
    class is named, or when that night is there already.
    """
    check_editions(editions)
    refuse_same_night(name, date)
    try:
        with transaction.atomic():
            night = RaceNight.objects.create(
                name=name, date=date, place=place, list_closes_at=list_closes_at
            )
    except IntegrityError as error:
        # Somebody else has just set it up.
        raise same_night(name, date) from error
    NightClass.objects.bulk_create(
        NightClass(night=night, race_class=race_class, edition=edition)
        for race_class, edition in editions.items()
    )
    record_event("night.planned", subject=night, act=act)
    return night


@transaction.atomic
def open_night(night: RaceNight, *, act: Act) -> RaceNight:
    """
    Open a night; from now on cars go on the block.

    Writes the RaceNight; audits ``night.opened``.  Raises RefusedError when it
    was opened before.
    """
    opened = RaceNight.objects.filter(pk=night.pk, opened_at=None).update(
        opened_at=act.at, opened_by=act.by
    )
    if not opened:
        raise RefusedError(
            code="night_opened",
            sentence=_("%(night)s has been opened already.") % {"night": night},
        )
    record_event("night.opened", subject=night, act=act)
    night.refresh_from_db()
    return night


@transaction.atomic
def close_night(night: RaceNight, *, act: Act) -> RaceNight:
    """
    Close a night; no car goes on the block any more.

    Writes the RaceNight and its NightSums; audits ``night.closed``.  Raises
    RefusedError when it is not open or a car is still on the block.
    """
    # Locked first, so that no car moves between this look and the closing.
    RaceNight.objects.select_for_update().get(pk=night.pk)
    if still := cars_on_block(night):
        names = ", ".join(entry.called for entry in still)
        raise RefusedError(
            code="car_on_block",
            sentence=_("Still on the block: %(names)s.") % {"names": names},
        )
    closed = RaceNight.objects.under_way().filter(pk=night.pk)
    if not closed.update(closed_at=act.at):
        raise RefusedError(
            code="night_not_open",
            sentence=_("%(night)s is not open.") % {"night": night},
        )
    record_event("night.closed", subject=night, act=act)
    keep_night_sums()
    look_at_tables()
    night.refresh_from_db()
    return night


def cars_on_block(night: RaceNight) -> list[Entry]:
    """Give the cars, with their open sheets, that keep a night from being closed."""
    on_block = night.entries.filter(state=EntryState.ON_BLOCK)
    sheets = Sheet.objects.open().select_related("block", "started_by")
    return list(
        on_block.select_related("car").prefetch_related(
            Prefetch("sheets", queryset=sheets, to_attr="open_sheets")
        )
    )


@transaction.atomic
def enter_car(
    night: RaceNight,
    car: Car,
    *,
    race_class: RaceClass,
    driver: Person,
    act: Act,
    number: str = "",
) -> Entry:
    """
    Enter a car in a class of a night, with its usual number or another one.

    Writes an Entry and its first EntryMove; audits ``entry.made``.  Raises
    RefusedError when the night is closed, the class does not race tonight, the car
    is retired, or it, or another one with the number, is in that class already.
    """
    if night.closed_at is not None:
        raise RefusedError(
            code="night_closed", sentence=_("%(night)s is closed.") % {"night": night}
        )
    if not night.classes.filter(race_class=race_class).exists():
        raise RefusedError(
            code="class_not_tonight",
            sentence=_("%(race_class)s does not race on %(night)s.")
            % {"race_class": race_class, "night": night},
            field="race_class",
        )
    if car.retired_at is not None:
        raise RefusedError(
            code="car_retired",
            sentence=_("Car %(car)s is retired.") % {"car": car},
            field="car",
        )
    number = number or car.number
    _refuse_twice(night, car, race_class)
    _refuse_number(night, number, race_class)
    try:
        with transaction.atomic():
            entry = Entry.objects.create(
                night=night,
                car=car,
                race_class=race_class,
                driver=driver,
                number=number,
                state_since=act.at,
                is_late=night.is_late_at(act.at),
            )
    except IntegrityError:
        # Somebody else has just entered it, or another car with its number.
        _refuse_twice(night, car, race_class)
        _refuse_number(night, number, race_class)
        raise
    EntryMove.objects.create(
        entry=entry, to_state=EntryState.WAITING, at=act.at, by=act.by
    )
    record_event("entry.made", subject=entry, act=act)
    return entry


def _refuse_twice(night: RaceNight, car: Car, race_class: RaceClass) -> None:
    there = night.entries.filter(car=car, race_class=race_class)
    if entry := there.select_related("driver").first():
        raise RefusedError(
            code="entered_already",
            sentence=_(
                "Car %(car)s is entered in %(race_class)s already: number %(entry)s, "
                "%(driver)s drives, it is “%(state)s”."
            )
            % {
                "car": car,
                "race_class": race_class,
                "entry": entry.number,
                "driver": entry.driver,
                "state": word_of(entry.state),
            },
            field="car",
        )


def _refuse_number(night: RaceNight, number: str, race_class: RaceClass) -> None:
    same = night.entries.filter(race_class=race_class, number=number)
    if taken := same.select_related("car", "driver").first():
        raise RefusedError(
            code="number_taken",
            sentence=_(
                "Number %(number)s is %(driver)s’s %(car)s in %(race_class)s tonight; "
                "give this car another number."
            )
            % {
                "number": number,
                "driver": taken.driver,
                "car": taken.car.name,
                "race_class": race_class,
            },
            field="number",
        )


def move_entry(
    entry: Entry,
    state: EntryState,
    *,
    act: Act,
    reason: str = "",
    since: dt.datetime | None = None,
) -> None:
    """
    Move a locked entry to another state; part of a caller's transaction.

    It stands there from now, or ``since`` before where it was there already.
    Writes the Entry and an EntryMove; audits ``entry.moved``.  Raises
    RefusedError when a race night does not know the move, or is closed.
    """
    start = entry.state
    refuse_unknown_move(start, state)
    _refuse_closed(entry)
    since = since or act.at
    moved = Entry.objects.filter(pk=entry.pk, state=start).update(
        state=state, state_since=since
    )
    if not moved:
        raise RefusedError(
            code="entry_moved",
            sentence=_(
                "Somebody else has just moved car %(entry)s; look at the board again."
            )
            % {"entry": entry.number},
        )
    entry.state, entry.state_since = state, since
    EntryMove.objects.create(
        entry=entry,
        from_state=start,
        to_state=state,
        at=act.at,
        by=act.by,
        reason=reason,
    )
    record_event("entry.moved", subject=entry, act=act, to=state, reason=reason)


def _refuse_closed(entry: Entry) -> None:
    # The night's row is locked: it does not close between this look and the move.
    night = RaceNight.objects.select_for_update().get(pk=entry.night_id)
    if night.closed_at is not None:
        raise RefusedError(
            code="night_closed",
            sentence=_("%(night)s is closed; car %(entry)s stays “%(state)s”.")
            % {"night": night, "entry": entry.number, "state": word_of(entry.state)},
        )


def lock_entry(entry_id: int) -> Entry:
    """Read an entry for a change, so that two changes wait for each other."""
    return (
        Entry.objects.select_for_update(of=("self",))
        .select_related("night", "car", "race_class")
        .get(pk=entry_id)
    )


@transaction.atomic
def call_back(entry_id: int, *, act: Act) -> Entry:
    """
    Put a car that was sent back in the queue again, for its re-check.

    Writes the Entry and an EntryMove; audits ``entry.moved``.  Raises RefusedError
    when it was not sent back.
    """
    entry = lock_entry(entry_id)
    if entry.state != EntryState.SENT_BACK:
        raise RefusedError(
            code="not_sent_back",
            sentence=_("Car %(entry)s is “%(state)s”, not sent back.")
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    move_entry(entry, EntryState.WAITING, act=act)
    return entry


@transaction.atomic
def withdraw_entry(entry_id: int, *, reason: str, act: Act) -> Entry:
    """
    Take a car out of tonight's racing, with a reason; a sheet that is open is void.

    Writes the Entry, an EntryMove and, of a car on the block, a SheetVoid; audits
    ``entry.moved`` and ``sheet.voided``.  Raises RefusedError without a reason.
    """
    why = _need_reason(reason, of=_("the car is withdrawn"))
    entry = _void_open_sheet(entry_id, why, act=act)
    move_entry(entry, EntryState.WITHDRAWN, act=act, reason=why)
    return entry


@transaction.atomic
def take_off_block(entry_id: int, *, reason: str, act: Act) -> Entry:
    """
    Take a car off the block that was put there by mistake: it waits again.

    One that waited before keeps its place in the queue.
    Writes a SheetVoid, the Entry and an EntryMove; audits ``sheet.voided`` and
    ``entry.moved``.  Raises RefusedError without a reason, or when the car is not on
    the block.
    """
    why = _need_reason(reason, of=_("the car is taken off the block"))
    entry = _void_open_sheet(entry_id, why, act=act)
    if entry.state != EntryState.ON_BLOCK:
        raise RefusedError(
            code="not_on_block",
            sentence=_("Car %(entry)s is “%(state)s”, not on the block.")
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    onto_block, *before = entry.moves.order_by("-id")[:2]
    has_waited = before and onto_block.from_state == EntryState.WAITING
    since = before[0].at if has_waited else None
    move_entry(entry, EntryState.WAITING, act=act, reason=why, since=since)
    return entry


@transaction.atomic
def undo_withdrawal(entry_id: int, *, reason: str, act: Act) -> Entry:
    """
    Bring a withdrawn car back to where it stood, with a reason.

    One that was on the block waits.  Writes the Entry and an EntryMove; audits
    ``entry.moved``.  Raises RefusedError without a reason, or when the car is not
    withdrawn.
    """
    why = _need_reason(reason, of=_("the withdrawal is undone"))
    entry = lock_entry(entry_id)
    if entry.state != EntryState.WITHDRAWN:
        raise RefusedError(
            code="not_withdrawn",
            sentence=_("Car %(entry)s is “%(state)s”, not withdrawn.")
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    last = entry.moves.latest("id")
    back = state_after_undoing(last.from_state)
    move_entry(entry, back, act=act, reason=why)
    return entry


def _need_reason(reason: str, *, of: str) -> str:
    if not reason.strip():
        raise RefusedError(
            code="reason_missing",
            sentence=_("Say why %(of)s.") % {"of": of},
            field="reason",
        )
    return reason.strip()


def _void_open_sheet(entry_id: int, reason: str, *, act: Act) -> Entry:
    """Lock an entry and its open sheet, in the order of a seal; void the sheet."""
    waiting = Sheet.objects.filter(entry=entry_id).order_by("pk")
    list(waiting.select_for_update(of=("self",)).values_list("pk", flat=True))
    entry = lock_entry(entry_id)
    for sheet in waiting.open():
        SheetVoid.objects.create(sheet=sheet, by=act.by, at=act.at, reason=reason)
        record_event("sheet.voided", subject=sheet, act=act, reason=reason)
    return entry
