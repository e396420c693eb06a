"""The board: a night's entries by state, who is next and how long they wait."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import OuterRef, QuerySet, Subquery

from inspection.compute.entries import EntryState
from inspection.models import Entry, RaceNight, Sheet


@dataclass(frozen=True, kw_only=True)
class BoardRow:
    """One entry's line."""

    entry: Entry
    sheet_number: str
    waits_minutes: int
    is_changed_since: bool


@dataclass(frozen=True, kw_only=True)
class BoardGroup:
    """The entries of one state, longest waiting first."""

    state: EntryState
    rows: tuple[BoardRow, ...]


@dataclass(frozen=True, kw_only=True)
class Board:
    """A night's entries, grouped by state in the board's order."""

    night: RaceNight
    groups: tuple[BoardGroup, ...]

    @property
    def next_up(self) -> BoardRow | None:
        waiting = (g for g in self.groups if g.state is EntryState.WAITING)
        return next((row for group in waiting for row in group.rows), None)


def night_tonight() -> RaceNight | None:
    """Give the night under way, or else the one last held or planned."""
    under_way = RaceNight.objects.under_way().first()
    return under_way or RaceNight.objects.first()


def load_board(night: RaceNight, now: dt.datetime) -> Board:
    """Load a night's board in one query."""
    rows = [_row(entry, now) for entry in _entries(night)]
    return Board(
        night=night,
        groups=tuple(
            BoardGroup(state=state, rows=_of_state(rows, state)) for state in EntryState
        ),
    )


def _entries(night: RaceNight) -> QuerySet[Entry]:
    sheets = Sheet.objects.filter(entry=OuterRef("pk")).order_by("-id")
    return (
        Entry.objects.filter(night=night)
        .select_related("car", "driver", "race_class")
        .annotate(
            last_sheet=Subquery(sheets.values("number")[:1]),
            last_sheet_at=Subquery(sheets.values("started_at")[:1]),
        )
        .order_by("state_since", "id")
    )


def _row(entry: Entry, now: dt.datetime) -> BoardRow:
    said = vars(entry)
    started = said["last_sheet_at"]
    passed = entry.state == EntryState.PASSED
    return BoardRow(
        entry=entry,
        sheet_number=said["last_sheet"] or "",
        waits_minutes=max(int((now - entry.state_since).total_seconds() // 60), 0),
        is_changed_since=passed
        and started is not None
        and entry.car.changed_at > started,
    )


def _of_state(rows: Iterable[BoardRow], state: EntryState) -> tuple[BoardRow, ...]:
    return tuple(row for row in rows if row.entry.state == state)


def next_waiting(night_id: int) -> Entry | None:
    """Give the entry that has waited longest."""
    waiting = Entry.objects.filter(night=night_id, state=EntryState.WAITING)
    return waiting.select_related("car").order_by("state_since", "id").first()
