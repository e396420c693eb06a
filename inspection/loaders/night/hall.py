"""The hall display: numbers and states, for everybody to read from afar."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.db.models import Count, Max, OuterRef, Subquery
from django.db.models.functions import Coalesce

from inspection.compute.night import EntryState
from inspection.loaders.night.board import nights_in_turn
from inspection.models import Block, Entry, EntryCall, EntryMove, RaceNight, Sheet

#: Rows of numbers that fit under a heading on a screen of 16 to 9.
_ROWS: Final = 5
#: Short numbers stand two in a row.
_SHORT: Final = 2
#: Longer ones are written smaller.
_LARGE: Final = 5
_NEXT: Final = 4
_BLOCKS: Final = 4


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A car on the display, and on which block."""

    number: str
    race_class: str
    block: str


@dataclass(frozen=True, kw_only=True)
class Column:
    """The last numbers of one state, and how many more there are."""

    numbers: tuple[str, ...]
    more: int
    has_longest: bool


@dataclass(frozen=True, kw_only=True)
class Hall:
    """What the display shows of a night."""

    night: RaceNight
    next_up: tuple[Shown, ...]
    more_waiting: int
    on_block: tuple[Shown, ...]
    passed: Column
    sent_back: Column
    names_classes: bool


def hall_stamp(today: dt.date) -> str:
    """
    Say in one query of which night and moment the display is.

    Two displays of the same stamp show the same.
    """
    moves = EntryMove.objects.filter(entry__night=OuterRef("pk"))
    calls = EntryCall.objects.filter(entry__night=OuterRef("pk"))
    last_move = moves.order_by("-pk").values("pk")[:1]
    last_call = calls.order_by("-pk").values("pk")[:1]
    blocks = (
        Block.objects.filter(is_in_use=True)
        .order_by()
        .values("is_in_use")
        .annotate(said=Count("pk") + Coalesce(Max("pk"), 0))
        .values("said")
    )
    newest = (
        nights_in_turn(today)
        .annotate(
            last_move=Subquery(last_move),
            last_call=Subquery(last_call),
            blocks=Subquery(blocks),
        )
        .values_list(
            "pk", "closed_at", "called_first", "last_move", "last_call", "blocks"
        )
        .first()
    )
    return "/".join(map(str, newest or ()))


def load_hall(night: RaceNight) -> Hall:
    """Load what the display shows of a night."""
    entries = list(
        Entry.objects.filter(night=night).select_related("race_class").in_turn()
    )
    by_state: dict[str, list[Entry]] = {state.value: [] for state in EntryState}
    for entry in entries:
        by_state[entry.state].append(entry)
    open_sheets = Sheet.objects.open().filter(entry__night=night)
    where = dict(open_sheets.values_list("entry", "block__name"))
    free = [name for name in _blocks() if name not in where.values()]
    waiting = by_state[EntryState.WAITING]
    on_block = by_state[EntryState.ON_BLOCK]
    return Hall(
        night=night,
        next_up=tuple(
            _shown(entry, free[place] if place < len(free) else "")
            for place, entry in enumerate(waiting[:_NEXT])
        ),
        more_waiting=max(len(waiting) - _NEXT, 0),
        on_block=tuple(
            _shown(entry, where.get(entry.pk) or "") for entry in on_block[:_BLOCKS]
        ),
        passed=_column(by_state[EntryState.PASSED]),
        sent_back=_column(by_state[EntryState.SENT_BACK]),
        names_classes=len({entry.race_class_id for entry in entries}) > 1,
    )


def _blocks() -> list[str]:
    in_use = Block.objects.filter(is_in_use=True).order_by("name")
    return list(in_use.values_list("name", flat=True))


def _shown(entry: Entry, block: str) -> Shown:
    return Shown(number=entry.number, race_class=entry.race_class.name, block=block)


def _column(entries: list[Entry]) -> Column:
    """Keep the newest that fit."""
    newest = sorted(entries, key=lambda one: (one.state_since, one.pk), reverse=True)
    is_long = any(len(one.number) > _SHORT for one in newest)
    room = _ROWS if is_long else 2 * _ROWS
    # The line that says how many more there are takes a row's room.
    if len(newest) > room:
        room -= 1 if is_long else 2
    return Column(
        numbers=tuple(one.number for one in newest[:room]),
        more=len(newest) - min(len(newest), room),
        has_longest=any(len(one.number) > _LARGE for one in newest),
    )
