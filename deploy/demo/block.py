"""Cars of the demo on the block: read by a scrutineer, judged, and sealed."""

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final
from zlib import crc32

from deploy.demo.bench import Bench
from deploy.demo.garage import CarInPlay
from inspection.actions.readings import TypedReading, strike_reading, take_reading
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.asking import Area
from inspection.compute.night import Decision
from inspection.compute.quantities import Keeps, Kind, Quantity
from inspection.compute.rulebooks import Answer
from inspection.loaders.block.sheets import (
    load_sheet,
    quantity_of,
    readings_asked,
    sheets_to_load,
)
from inspection.loaders.block.steps import load_steps
from inspection.loaders.rulebooks.editions import LoadedRule
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
    gaps: frozenset[str]


def put_on_block(turn: Turn, *, changed: Iterable[Area] = ()) -> OnBlock:
    made = start_sheet(
        turn.entry.pk, block=turn.block, changed=changed, act=turn.act(seconds=20)
    )
    sheet = sheets_to_load().get(pk=made.pk)
    loaded = load_sheet(sheet)
    carried = set(sheet.readings.values_list("column", flat=True))
    asked = readings_asked(loaded.rules, sheet).tonight
    # What stood in the record and was changed since is read again, too.
    gaps = tuple(
        step.column
        for step in load_steps(loaded, [])
        if step.is_asked
        and not step.is_done
        and (step.value is None or step.value.is_only_declared)
    )
    tonight = (column for column in asked if column not in carried)
    columns = tuple(dict.fromkeys((*tonight, *gaps)))
    return OnBlock(
        turn=turn,
        sheet=sheet,
        rules=loaded.rules,
        columns=columns,
        gaps=frozenset(gaps),
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
        is_known = column in turn.play.on_record and column not in on_block.gaps
        if keeps is Keeps.TONIGHT or not is_known:
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
        _read_what_speaks_against_it(on_block)
        seal_sheet(number, decision=Decision.SENT_BACK, act=act)


def _read_what_speaks_against_it(on_block: OnBlock) -> None:
    """Read the stored figures that a rule fails by: they alone send nobody back."""
    loaded = load_sheet(sheets_to_load().get(pk=on_block.sheet.pk))
    if loaded.may_be_sent_back:
        return
    stored = on_block.turn.play.demo.stored
    columns = (v.column for finding in loaded.refused for v in finding.rests_on)
    for column in dict.fromkeys(column for column in columns if column in stored):
        read(on_block, column)


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
    if taken.reading is None and turn.bench.is_sure:
        sure = replace(typed, is_confirmed=True)
        taken = take_reading(number, sure, act=turn.act(seconds=SECONDS_A_READING))
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
    if column not in turn.play.demo.stored and quantity.kind is Kind.TAKEN_OR_DERIVED:
        return _limit_slip(on_block, quantity)
    truth = {**turn.play.demo.stored, **turn.play.truth}[column]
    if quantity.kind not in {Kind.MEASURED, Kind.TAKEN_OR_DERIVED}:
        return truth
    # A step of the display up or down, always the same one for the same reading.
    seed = f"{on_block.sheet.number[-3:]}/{turn.play.demo.number}/{column}/{again}"
    steps = crc32(seed.encode()) % 3 - 1
    step = Decimal(turn.bench.mode_for(quantity).resolution).scaleb(-6).normalize()
    return str((Decimal(truth) + steps * step).quantize(step))


def _limit_slip(on_block: OnBlock, quantity: Quantity) -> str:
    stage = on_block.sheet.stage
    limits = [r.limits(stage) for r in on_block.rules if r.quantity == quantity]
    return f"{limits[0][0]:g}"


def _answer(turn: Turn, quantity: Quantity, column: str) -> Answer | None:
    if quantity.kind in {Kind.LOOKED_AT, Kind.TAKEN_OR_DERIVED}:
        word = turn.play.truth.get(column)
        return Answer(word) if word else None
    return None


def _gauge(bench: Bench, quantity: Quantity) -> int | None:
    if quantity.kind in {Kind.LOOKED_AT, Kind.COUNTED}:
        return None
    return bench.mode_for(quantity).pk
