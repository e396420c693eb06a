"""Entries: made, called, put on the block, moved about with a reason."""

from collections.abc import Callable
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone

from inspection.actions.night.entries import enter_own_car, not_here
from inspection.actions.race_nights import (
    call_back,
    enter_car,
    take_off_block,
    undo_withdrawal,
    withdraw_entry,
)
from inspection.actions.sheets import reopen_car, start_sheet
from inspection.api.nights.gives import EntryLine, SheetStarted
from inspection.api.nights.takes import (
    EntrySaid,
    OntoBlock,
    OwnEntrySaid,
    Reason,
    Reopening,
)
from inspection.compute.asking import Area
from inspection.loaders.cars.search import cars_had_by
from inspection.loaders.night.board import BoardRow, load_board
from inspection.models import Block, Car, Entry, RaceClass, RaceNight, Sheet
from inventory.api.foundation.operations import (
    Call,
    Operation,
    makes,
    reads,
    reads_all,
    writes,
)
from inventory.api.foundation.rows import named_row, person_named
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope


@reads_all(EntryLine)
def list_entries(call: Call, night_id: int) -> list[BoardRow]:
    """List a night's entries by state, those first that wait longest."""
    night = get_object_or_404(RaceNight, pk=night_id)
    board = load_board(night, timezone.now())
    return [row for group in board.groups for row in group.rows]


@reads(EntryLine)
def show_entry(call: Call, entry_id: int) -> BoardRow:
    """Tell of one entry as the board shows it."""
    return _line(entry_id)


@makes(
    EntryLine,
    asks=Ability.INSPECT_CARS,
    scope=Scope.ALL,
    takes=EntrySaid,
    example={"car": "C2A9", "race_class": 1, "number": "77"},
)
def enter_a_car(call: Call, night_id: int) -> BoardRow:
    """Enter a car in a class of a night."""
    night = get_object_or_404(RaceNight, pk=night_id)
    car = named_row(Car.objects.racing(), call.said["car"], field="car", by="tag")
    race_class = named_row(
        RaceClass.objects.all(), call.said["race_class"], field="race_class"
    )
    key = call.said["driver"]
    driver = car.usual_driver if key is None else person_named(key, field="driver")
    made = enter_car(
        night,
        car,
        race_class=race_class,
        driver=driver,
        number=call.said["number"],
        act=call.act,
    )
    return _line(made.pk)


@makes(
    EntryLine,
    asks=Ability.LOOK,
    scope=Scope.ALL,
    takes=OwnEntrySaid,
    example={"car": "C2A9", "race_class": 1},
)
def enter_an_own_car(call: Call, night_id: int) -> BoardRow:
    """Enter a car that one owns or has borrowed, until the list closes."""
    night = get_object_or_404(RaceNight, pk=night_id)
    cars = cars_had_by(call.person)
    car = named_row(cars, call.said["car"], field="car", by="tag")
    race_class = named_row(
        RaceClass.objects.all(), call.said["race_class"], field="race_class"
    )
    number = call.said["number"]
    made = enter_own_car(night, car, race_class=race_class, number=number, act=call.act)
    return _line(made.pk)


@makes(
    SheetStarted,
    asks=Ability.INSPECT_CARS,
    scope=Scope.READINGS,
    takes=OntoBlock,
    example={"block": 1, "changed": []},
)
def put_on_the_block(call: Call, entry_id: int) -> Sheet:
    """Put a car on the block: a new sheet, with what need not be taken again."""
    entry = get_object_or_404(Entry, pk=entry_id)
    key = call.said["block"]
    blocks = Block.objects.filter(is_in_use=True)
    block = None if key is None else named_row(blocks, key, field="block")
    return start_sheet(
        entry.pk,
        block=block,
        changed=frozenset(Area(word) for word in call.said["changed"]),
        paper_at=call.said["paper_at"],
        act=call.act,
    )


@makes(
    SheetStarted,
    asks=Ability.REOPEN_CARS,
    scope=Scope.ALL,
    takes=Reopening,
    example={"reason": "The wing was bent in the race."},
)
def reopen_a_car(call: Call, entry_id: int) -> Sheet:
    """Bring a passed car back on the block by the chief's order, with a reason."""
    entry = get_object_or_404(Entry, pk=entry_id)
    body = call.said
    return reopen_car(
        entry.pk,
        reason=body["reason"],
        stands=body["stands"],
        block=None,
        act=call.act,
    )


def _with_reason(name: str, words: str, move: Callable[..., Entry]) -> Operation:
    def do(call: Call, entry_id: int) -> BoardRow:
        entry = get_object_or_404(Entry, pk=entry_id)
        move(entry.pk, reason=call.said["reason"], act=call.act)
        return _line(entry_id)

    return _named(
        do,
        name,
        words,
        takes=Reason,
        example={"reason": "It was put there by mistake."},
    )


def _at_once(name: str, words: str, move: Callable[..., Entry]) -> Operation:
    def do(call: Call, entry_id: int) -> BoardRow:
        entry = get_object_or_404(Entry, pk=entry_id)
        move(entry.pk, act=call.act)
        return _line(entry_id)

    return _named(do, name, words)


def _named(do: Callable[..., Any], name: str, words: str, **more: Any) -> Operation:
    do.__name__, do.__doc__ = name, words
    declare = writes(EntryLine, asks=Ability.INSPECT_CARS, scope=Scope.READINGS, **more)
    return declare(do)


take_off = _with_reason(
    "take_off_the_block",
    "Take a car off the block that was put there by mistake: it waits again.",
    take_off_block,
)
withdraw = _with_reason(
    "withdraw_a_car",
    "Take a car out of tonight's racing; a sheet that is open is void.",
    withdraw_entry,
)
undo = _with_reason(
    "undo_a_withdrawal",
    "Bring a withdrawn car back to where it stood.",
    undo_withdrawal,
)
queue_again = _at_once(
    "queue_again", "Put a car that was sent back in the queue again.", call_back
)
absent = _at_once(
    "call_in_vain", "Note that a waiting car was called and was not there.", not_here
)


def _line(entry_id: int) -> BoardRow:
    entry = get_object_or_404(Entry.objects.select_related("night"), pk=entry_id)
    board = load_board(entry.night, timezone.now())
    rows = (row for group in board.groups for row in group.rows)
    return next(row for row in rows if row.entry.pk == entry_id)
