"""A driver's own cars on a night: their turn, what was found, what to do."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from inspection.compute.night import (
    EntryState,
    Standing,
    minutes_a_car,
    minutes_until_turn,
    standing_of,
)
from inspection.loaders.night.board import Board, BoardRow, load_board
from inspection.loaders.night.reports import broken_rules
from inspection.models import Entry, RaceNight, Seal, Sheet
from inventory.models import Person

#: So many cars back tell how quick the night is.
_LAST: Final = 20


@dataclass(frozen=True, kw_only=True)
class MyCar:
    """One car of a driver's: where it stands, and what comes next."""

    row: BoardRow
    standing: Standing
    place: int
    about_minutes: int
    block: str
    broken: tuple[str, ...]

    @property
    def is_entry_alone(self) -> bool:
        """Whether it waits and was not on the block yet."""
        return self.place > 0 and not self.row.sheet_number

    @property
    def entry(self) -> Entry:
        return self.row.entry

    @property
    def is_next(self) -> bool:
        return self.place == 1


@dataclass(frozen=True, kw_only=True)
class Mine:
    """The cars of one person on a night; ``is_open``: they may enter and go back."""

    night: RaceNight
    is_open: bool
    cars: tuple[MyCar, ...]


def load_mine(person: Person, night: RaceNight, now: dt.datetime) -> Mine:
    """Load the cars of a night that a person drives or owns."""
    board = load_board(night, now)
    rows = {state.value: list(_rows(board, state)) for state in EntryState}
    # A closed night calls nobody.
    queue = rows[EntryState.WAITING] if night.closed_at is None else []
    waiting = [row.entry.pk for row in queue]
    own = [
        row for some in rows.values() for row in some if is_own_entry(row.entry, person)
    ]
    is_open = night.closed_at is None and not night.is_late_at(now)
    if not own:
        return Mine(night=night, is_open=is_open, cars=())
    a_car = minutes_a_car(_minutes_on_the_block(night))
    busy = len(rows[EntryState.ON_BLOCK])
    broken = broken_rules(own)
    where = _blocks(own)
    return Mine(
        night=night,
        is_open=is_open,
        cars=tuple(
            _car(row, waiting, broken, where, a_car=a_car, busy=busy) for row in own
        ),
    )


def is_own_entry(entry: Entry, person: Person) -> bool:
    """Whether a person drives or owns what is entered, or has it lent."""
    return person.pk in {entry.driver_id, entry.car.owner_id, entry.car.lent_to_id}


def _rows(board: Board, state: EntryState) -> Iterable[BoardRow]:
    return (row for group in board.groups if group.state is state for row in group.rows)


def _minutes_on_the_block(night: RaceNight) -> list[float]:
    seals = Seal.objects.filter(night=night).order_by("-sequence")
    times = seals.values_list("sheet__started_at", "sealed_at")[:_LAST]
    return [(sealed - started).total_seconds() / 60 for started, sealed in times]


def _blocks(rows: list[BoardRow]) -> dict[int, str]:
    open_sheets = Sheet.objects.open().filter(entry__in=[row.entry.pk for row in rows])
    named = open_sheets.exclude(block=None)
    return dict(named.values_list("entry", "block__name"))


def _car(
    row: BoardRow,
    waiting: list[int],
    broken: Mapping[int, list[str]],
    where: Mapping[int, str],
    *,
    a_car: float,
    busy: int,
) -> MyCar:
    pk = row.entry.pk
    place = waiting.index(pk) + 1 if pk in waiting else 0
    is_questioned = bool(
        row.in_doubt
        or row.protests
        or row.is_protest_upheld
        or row.is_judged_otherwise
        or row.is_changed_since
    )
    return MyCar(
        row=row,
        standing=standing_of(row.entry.state, is_in_question=is_questioned),
        place=place,
        about_minutes=minutes_until_turn(place - 1, a_car=a_car, blocks=busy)
        if place
        else 0,
        block=where.get(pk, ""),
        broken=tuple(broken.get(row.sheet_id or 0, [])),
    )
