"""The board: a night's entries by state, who is next and how long they wait."""

import datetime as dt
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, replace
from typing import Final

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)

from inspection.compute.night import EntryState
from inspection.loaders.block.doubts import doubts_of
from inspection.loaders.night.measured import Measured, measured_on, one_of
from inspection.loaders.night.protests import ProtestsNow, ToHear, load_protests_now
from inspection.models import (
    Block,
    EditionMove,
    Entry,
    EntryMove,
    HeldCar,
    JudgedAgain,
    NightClass,
    Protest,
    RaceNight,
)

#: The bar of a wait is full at so many minutes.
FULL_WAIT: Final = 60


@dataclass(frozen=True, kw_only=True)
class BoardRow:
    """One entry's line."""

    entry: Entry
    #: The last sheet, none and an empty number before the first.
    sheet_id: int | None
    sheet_number: str
    waits_minutes: int
    reason: str
    calls: int
    in_doubt: tuple[str, ...]
    is_judged_otherwise: bool
    protests: int
    #: One against the sheet that still counts: nothing was done of it yet.
    is_protest_upheld: bool
    is_held: bool
    is_checked_after: bool
    is_by_concerned: bool
    is_changed_since: bool
    block_id: int | None = None
    #: Who began the last sheet.
    measured_by: str = ""

    @property
    def wait_bar(self) -> int:
        """How long the bar of its wait is, of `FULL_WAIT`."""
        return min(self.waits_minutes, FULL_WAIT)


@dataclass(frozen=True, kw_only=True)
class BoardGroup:
    """The entries of one state, longest waiting first."""

    state: EntryState
    rows: tuple[BoardRow, ...]

    def of_class(self, class_id: int) -> "BoardGroup":
        """Keep the entries of one class."""
        rows = (row for row in self.rows if row.entry.race_class_id == class_id)
        return BoardGroup(state=self.state, rows=tuple(rows))


@dataclass(frozen=True, kw_only=True)
class RacesBy:
    """The edition that a class races by, and how it last came to."""

    named: NightClass
    move: EditionMove | None


@dataclass(frozen=True, kw_only=True)
class BlockNow:
    """A block in use, and the cars that stand on it."""

    block: Block | None
    rows: tuple[BoardRow, ...]


@dataclass(frozen=True, kw_only=True)
class Board:
    """A night's entries, grouped by state in the board's order."""

    night: RaceNight
    editions: tuple[RacesBy, ...]
    groups: tuple[BoardGroup, ...]
    to_hear: tuple[ToHear, ...]

    @property
    def in_question(self) -> tuple[BoardRow, ...]:
        """Sealed cars of which the chief has still to rule."""
        return tuple(
            row
            for group in self.groups
            for row in group.rows
            if row.entry.state != EntryState.ON_BLOCK
            and (row.in_doubt or row.is_judged_otherwise or row.protests)
        )

    @property
    def held(self) -> tuple[BoardRow, ...]:
        """Cars that are held after the race and were not let go yet."""
        return tuple(row for group in self.groups for row in group.rows if row.is_held)

    @property
    def open_protests(self) -> int:
        """How many protests of the night nobody has ruled on."""
        return sum(row.protests for group in self.groups for row in group.rows)

    def of_class(self, class_id: int) -> "Board":
        """Give the board of one class alone."""
        return replace(self, groups=tuple(g.of_class(class_id) for g in self.groups))

    def rows(self, state: EntryState) -> tuple[BoardRow, ...]:
        """Give the entries that stand so."""
        return next(g.rows for g in self.groups if g.state is state)

    def on_blocks(self, blocks: Iterable[Block]) -> tuple[BlockNow, ...]:
        """Say what stands on each block, those on none of them last."""
        rows = self.rows(EntryState.ON_BLOCK)
        known = [
            BlockNow(
                block=block,
                rows=tuple(row for row in rows if row.block_id == block.pk),
            )
            for block in blocks
        ]
        placed = {row.entry.pk for one in known for row in one.rows}
        rest = tuple(row for row in rows if row.entry.pk not in placed)
        return (*known, BlockNow(block=None, rows=rest)) if rest else tuple(known)

    @property
    def next_up(self) -> BoardRow | None:
        if self.night.closed_at is not None:
            return None
        waiting = (g for g in self.groups if g.state is EntryState.WAITING)
        return next((row for group in waiting for row in group.rows), None)


def night_tonight(today: dt.date) -> RaceNight | None:
    """Give the night that people mean by tonight."""
    return nights_in_turn(today).first()


def nights_in_turn(today: dt.date) -> QuerySet[RaceNight]:
    """
    Order the nights by which of them is tonight's.

    The one that is open, also after midnight; else today's; else the next that is
    planned; else the last that was held.
    """
    nights = RaceNight.objects.annotate(
        turn=Case(
            When(opened_at__isnull=False, closed_at=None, then=Value(0)),
            When(date=today, closed_at=None, then=Value(1)),
            When(date=today, then=Value(2)),
            When(date__gt=today, opened_at=None, then=Value(3)),
            When(opened_at__isnull=False, then=Value(4)),
            default=Value(5),
        ),
        ahead=Case(When(date__gt=today, opened_at=None, then=F("date"))),
    )
    return nights.order_by("turn", "ahead", "-date", "-id")


def load_board(night: RaceNight, now: dt.datetime) -> Board:
    """Load a night's board; two queries a night and one more of its editions."""
    entries = list(_entries(night))
    sheets = measured_on(night)
    doubts = _doubts(sheets)
    editions = _editions(night)
    otherwise = _judged_otherwise(sheets) if any(e.move for e in editions) else set()
    protests = _protests(night, entries)
    rows = [
        _row(entry, now, sheets.get(entry.pk, Measured()), doubts, otherwise, protests)
        for entry in entries
    ]
    return Board(
        night=night,
        editions=editions,
        groups=tuple(
            BoardGroup(state=state, rows=_of_state(rows, state)) for state in EntryState
        ),
        to_hear=protests.to_hear,
    )


def _entries(night: RaceNight) -> QuerySet[Entry]:
    """
    Load a night's entries, in turn.

    What lies beside them is asked of the whole night at once, never of each entry:
    that took PostgreSQL seconds wherever it knew too little of its tables.
    """
    moves = EntryMove.objects.filter(entry=OuterRef("pk")).order_by("-id")
    held = HeldCar.objects.filter(entry__night=night, release=None)
    protests = Protest.objects.filter(entry__night=night)
    return (
        Entry.objects.filter(night=night)
        .select_related("car", "driver", "race_class")
        .annotate(
            is_held=one_of(held.values("entry")),
            has_protests=one_of(protests.values("entry")),
            call_count=Count("calls", filter=Q(calls__at__gte=F("state_since"))),
            last_reason=Subquery(moves.values("reason")[:1]),
        )
        .in_turn()
    )


def _doubts(sheets: Mapping[int, Measured]) -> dict[int, tuple[str, ...]]:
    """Name, by sheet, the failed gauges of which nobody has ruled yet."""
    if not any(one.has_failed_since for one in sheets.values()):
        return {}
    return {
        sheet_id: tuple(dict.fromkeys(one.gauge for one in doubts if not one.ruling))
        for sheet_id, doubts in doubts_of(*_last(sheets)).items()
    }


def _last(sheets: Mapping[int, Measured]) -> list[int]:
    return [one.sheet_id for one in sheets.values() if one.sheet_id is not None]


def _editions(night: RaceNight) -> tuple[RacesBy, ...]:
    moves = EditionMove.objects.filter(night=night)
    was_moved = Exists(moves.filter(race_class=OuterRef("race_class")))
    named = list(
        night.classes.select_related("race_class", "edition__rulebook")
        .annotate(was_moved=was_moved)
        .order_by("race_class__name")
    )
    # Seldom: so it is asked for only where there is one.
    has_moves = any(vars(one)["was_moved"] for one in named)
    moved = {
        move.race_class_id: move
        for move in (moves.select_related("before", "by") if has_moves else ())
    }
    return tuple(RacesBy(named=one, move=moved.get(one.race_class_id)) for one in named)


def _judged_otherwise(sheets: Mapping[int, Measured]) -> set[int]:
    """Give the sheets that a new edition decides otherwise, and nobody ruled of."""
    unruled = JudgedAgain.objects.filter(sheet__in=_last(sheets), ruling=None)
    return set(unruled.values_list("sheet", flat=True))


def _protests(night: RaceNight, entries: Iterable[Entry]) -> ProtestsNow:
    """Load where the protests of a night stand."""
    # Seldom: so it is asked for only where there is one.
    if not any(vars(entry)["has_protests"] for entry in entries):
        return ProtestsNow()
    return load_protests_now(Protest.objects.filter(entry__night=night))


def _row(
    entry: Entry,
    now: dt.datetime,
    sheet: Measured,
    doubts: Mapping[int, tuple[str, ...]],
    otherwise: Set[int],
    protests: ProtestsNow,
) -> BoardRow:
    columns = vars(entry)
    passed = entry.state == EntryState.PASSED
    return BoardRow(
        entry=entry,
        sheet_id=sheet.sheet_id,
        sheet_number=sheet.number,
        waits_minutes=max(int((now - entry.state_since).total_seconds() // 60), 0),
        reason=columns["last_reason"] or "",
        calls=columns["call_count"],
        block_id=sheet.block_id,
        measured_by=sheet.by,
        protests=protests.open_by_entry[entry.pk],
        is_protest_upheld=(entry.pk, sheet.sheet_id) in protests.upheld,
        is_held=columns["is_held"],
        is_checked_after=sheet.is_checked_after,
        is_by_concerned=sheet.is_by_concerned,
        is_judged_otherwise=sheet.sheet_id in otherwise,
        in_doubt=doubts.get(sheet.sheet_id or 0, ()),
        is_changed_since=passed
        and sheet.started_at is not None
        and entry.car.changed_at > sheet.started_at,
    )


def _of_state(rows: Iterable[BoardRow], state: EntryState) -> tuple[BoardRow, ...]:
    return tuple(row for row in rows if row.entry.state == state)


def next_waiting(night_id: int) -> Entry | None:
    """Give the entry whose turn is next."""
    waiting = Entry.objects.filter(night=night_id, state=EntryState.WAITING)
    return waiting.select_related("car").in_turn().first()
