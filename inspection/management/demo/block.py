"""Cars of the demo on the block: read by a scrutineer, judged, and sealed."""

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final
from zlib import crc32

from inspection.actions.readings import TypedReading, strike_reading, take_reading
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.entries import Decision
from inspection.compute.quantity import Keeps, Kind, Quantity
from inspection.compute.recheck import Area
from inspection.compute.requirements import Answer, Stage
from inspection.loaders.rulebooks import LoadedRule, load_edition
from inspection.loaders.sheets import (
    asked_of,
    quantity_of,
    readings_asked,
    sheets_to_load,
)
from inspection.management.demo.bench import Bench
from inspection.management.demo.garage import CarInPlay
from inspection.models import Block, Entry, Sheet, SheetReading
from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.models import Person

SECONDS_A_READING: Final = 5
_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook demo reading")


class StrangeReadingError(Exception):
    """A reading of the demo was asked about: its numbers contradict each other."""


class Clock:
    """The time as the night goes on."""

    def __init__(self, at: dt.datetime) -> None:
        self.at = at

    def tick(self, *, seconds: float = 0, minutes: float = 0) -> dt.datetime:
        self.at += dt.timedelta(seconds=seconds, minutes=minutes)
        return self.at


@dataclass(frozen=True, kw_only=True)
class Turn:
    """A car's turn on the block: who measures it, where, with what."""

    entry: Entry
    play: CarInPlay
    reader: Person
    block: Block
    bench: Bench
    clock: Clock

    def act(self, *, seconds: float = 0) -> Act:
        return Act(by=self.reader, at=self.clock.tick(seconds=seconds))


@dataclass(frozen=True, kw_only=True)
class OnBlock:
    """A car on the block: its sheet and what is still to be read, in order."""

    turn: Turn
    sheet: Sheet
    rules: tuple[LoadedRule, ...]
    columns: tuple[str, ...]


def put_on_block(turn: Turn, *, changed: Iterable[Area] = ()) -> OnBlock:
    made = start_sheet(
        turn.entry.pk, block=turn.block, changed=changed, act=turn.act(seconds=20)
    )
    sheet = sheets_to_load().get(pk=made.pk)
    rules = asked_of(load_edition(sheet.edition), sheet)
    carried = set(sheet.readings.values_list("column", flat=True))
    asked = readings_asked(rules, sheet).tonight
    return OnBlock(
        turn=turn,
        sheet=sheet,
        rules=rules,
        columns=tuple(column for column in asked if column not in carried),
    )


def inspect(
    turn: Turn, *, changed: Iterable[Area] = (), repeats: Iterable[str] = ()
) -> None:
    """
    Take a car through its turn: what may have moved is read, then it is sealed.

    What changes only with a part, and is on record, is not read again; what is to
    be repeated is read at three angles.
    """
    on_block = put_on_block(turn, changed=changed)
    for column in on_block.columns:
        keeps = quantity_of(column).keeps
        if keeps is Keeps.TONIGHT or column not in turn.play.on_record:
            for angle in range(3 if column in repeats else 1):
                read(on_block, column, again=angle)
    _seal(on_block)


def _seal(on_block: OnBlock) -> None:
    number, act = on_block.sheet.number, on_block.turn.act(seconds=15)
    try:
        seal_sheet(number, decision=Decision.PASSED, act=act)
    except RefusedError as refusal:
        if refusal.code != "rules_not_admitted":
            raise
        seal_sheet(number, decision=Decision.SENT_BACK, act=act)


def read(
    on_block: OnBlock, column: str, *, text: str = "", again: int = 0
) -> SheetReading:
    """Read one column of the car as it truly is, or as the text says."""
    turn, quantity = on_block.turn, quantity_of(column)
    number = on_block.sheet.number
    typed = TypedReading(
        reading_id=uuid.uuid5(_IDS, f"{number}/{column}/{again}"),
        column=column,
        text=text or _text(on_block, column, again),
        answer=_answer(turn, quantity, column),
        gauge_mode_id=_gauge(turn.bench, quantity),
    )
    taken = take_reading(number, typed, act=turn.act(seconds=SECONDS_A_READING))
    if taken.reading is None:
        raise StrangeReadingError(taken.question)
    return taken.reading


def read_amiss(on_block: OnBlock, column: str, *, text: str, reason: str) -> None:
    """Take a reading, strike it with a reason, and take it again."""
    amiss = read(on_block, column, text=text)
    act = on_block.turn.act(seconds=10)
    strike_reading(on_block.sheet.number, amiss.pk, reason=reason, act=act)
    read(on_block, column, again=1)


def _text(on_block: OnBlock, column: str, again: int) -> str:
    turn, quantity = on_block.turn, quantity_of(column)
    if quantity.kind is Kind.TAKEN_OR_DERIVED:
        return _limit_slip(on_block, quantity)
    truth = turn.play.truth[column]
    if quantity.kind is not Kind.MEASURED:
        return truth
    # A step of the display up or down, always the same one for the same reading.
    said = f"{on_block.sheet.number[-3:]}/{turn.play.demo.number}/{column}/{again}"
    steps = crc32(said.encode()) % 3 - 1
    step = Decimal(turn.bench.mode_for(quantity).resolution).scaleb(-6).normalize()
    return str((Decimal(truth) + steps * step).quantize(step))


def _limit_slip(on_block: OnBlock, quantity: Quantity) -> str:
    stage = Stage(on_block.sheet.stage)
    limits = [r.limits(stage) for r in on_block.rules if r.quantity == quantity]
    return f"{limits[0][0]:g}"


def _answer(turn: Turn, quantity: Quantity, column: str) -> Answer | None:
    if quantity.kind in {Kind.LOOKED_AT, Kind.TAKEN_OR_DERIVED}:
        return Answer(turn.play.truth[column])
    return None


def _gauge(bench: Bench, quantity: Quantity) -> int | None:
    if quantity.kind in {Kind.LOOKED_AT, Kind.COUNTED}:
        return None
    return bench.mode_for(quantity).pk
