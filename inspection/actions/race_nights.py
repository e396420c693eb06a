"""Race nights: setting one up, entering cars, and moving entries about."""

import datetime as dt
from collections.abc import Mapping

from django.db import transaction

from inspection.compute.entries import EntryState, MoveRefusedError, check_move
from inspection.models import (
    Block,
    Car,
    Edition,
    Entry,
    EntryMove,
    NightClass,
    RaceClass,
    RaceNight,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.models import Person


@transaction.atomic
def plan_night(
    *,
    name: str,
    date: dt.date,
    place: str,
    editions: Mapping[RaceClass, Edition],
    act: Act,
) -> RaceNight:
    """
    Set up a race night with the edition that each class races by.

    Writes a RaceNight and a NightClass a class; audits ``night.planned``.
    Raises RefusedError when an edition is a draft or of another rulebook, or
    when no class is named.
    """
    if not editions:
        raise RefusedError(
            code="no_class", sentence="Name at least one class.", field="editions"
        )
    for race_class, edition in editions.items():
        if not edition.is_published or edition.rulebook_id != race_class.rulebook_id:
            raise RefusedError(
                code="edition_not_for_class",
                sentence=f"{edition} is not a published edition of the rulebook "
                f"of {race_class}.",
                field="editions",
            )
    night = RaceNight.objects.create(name=name, date=date, place=place)
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
            code="night_opened", sentence=f"{night} has been opened already."
        )
    record_event("night.opened", subject=night, act=act)
    night.refresh_from_db()
    return night


@transaction.atomic
def close_night(night: RaceNight, *, act: Act) -> RaceNight:
    """
    Close a night; no car goes on the block any more.

    Writes the RaceNight; audits ``night.closed``.  Raises RefusedError when it
    is not open or a car is still on the block.
    """
    on_block = night.entries.filter(state=EntryState.ON_BLOCK).select_related("car")
    if still := on_block.first():
        raise RefusedError(
            code="car_on_block",
            sentence=f"Car {still.car.number} is still on the block.",
        )
    closed = RaceNight.objects.under_way().filter(pk=night.pk)
    if not closed.update(closed_at=act.at):
        raise RefusedError(code="night_not_open", sentence=f"{night} is not open.")
    record_event("night.closed", subject=night, act=act)
    night.refresh_from_db()
    return night


@transaction.atomic
def add_block(name: str, *, act: Act) -> Block:
    """
    Bring a block, a flat plate with a name, into use.

    Writes a Block; audits ``block.added``.  Raises RefusedError when the name is
    taken.
    """
    block, is_new = Block.objects.get_or_create(name=name)
    if not is_new:
        raise RefusedError(
            code="name_taken",
            sentence=f"A block is already called “{name}”.",
            field="name",
        )
    record_event("block.added", subject=block, act=act)
    return block


@transaction.atomic
def enter_car(
    night: RaceNight,
    car: Car,
    *,
    race_class: RaceClass,
    driver: Person,
    act: Act,
) -> Entry:
    """
    Enter a car in a class of a night.

    Writes an Entry and its first EntryMove; audits ``entry.made``.  Raises
    RefusedError when the night is closed, the class does not race tonight, or
    the car is in that class already.
    """
    if night.closed_at is not None:
        raise RefusedError(code="night_closed", sentence=f"{night} is closed.")
    if not night.classes.filter(race_class=race_class).exists():
        raise RefusedError(
            code="class_not_tonight",
            sentence=f"{race_class} does not race on {night}.",
            field="race_class",
        )
    if night.entries.filter(car=car, race_class=race_class).exists():
        raise RefusedError(
            code="entered_already",
            sentence=f"Car {car} is entered in {race_class} already.",
            field="car",
        )
    entry = Entry.objects.create(
        night=night, car=car, race_class=race_class, driver=driver, state_since=act.at
    )
    EntryMove.objects.create(
        entry=entry, to_state=EntryState.WAITING, at=act.at, by=act.by
    )
    record_event("entry.made", subject=entry, act=act)
    return entry


def move_entry(entry: Entry, state: EntryState, *, act: Act, reason: str = "") -> None:
    """
    Move a locked entry to another state; part of a caller's transaction.

    Writes the Entry and an EntryMove; audits ``entry.moved``.  Raises
    RefusedError when a race night does not know the move.
    """
    start = EntryState(entry.state)
    try:
        check_move(start, state)
    except MoveRefusedError as refusal:
        raise RefusedError.because(refusal) from refusal
    moved = Entry.objects.filter(pk=entry.pk, state=start).update(
        state=state, state_since=act.at
    )
    if not moved:
        raise RefusedError(
            code="entry_moved",
            sentence=f"Somebody else has just moved car {entry.car.number}; "
            "look at the board again.",
        )
    entry.state, entry.state_since = state, act.at
    EntryMove.objects.create(
        entry=entry,
        from_state=start,
        to_state=state,
        at=act.at,
        by=act.by,
        reason=reason,
    )
    record_event("entry.moved", subject=entry, act=act, to=state, reason=reason)


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

    Writes the Entry and an EntryMove; audits ``entry.moved``.
    """
    entry = lock_entry(entry_id)
    move_entry(entry, EntryState.WAITING, act=act)
    return entry


@transaction.atomic
def withdraw_entry(entry_id: int, *, reason: str, act: Act) -> Entry:
    """
    Take a car out of tonight's racing, with a reason.

    Writes the Entry and an EntryMove; audits ``entry.moved``.  Raises
    RefusedError without a reason.
    """
    if not reason.strip():
        raise RefusedError(
            code="reason_missing",
            sentence="Say why the car is withdrawn.",
            field="reason",
        )
    entry = lock_entry(entry_id)
    move_entry(entry, EntryState.WITHDRAWN, act=act, reason=reason.strip())
    return entry
