"""What would make a car of a sheet legal, from what lies in the drawers."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from inspection.compute.fit import Envelope
from inspection.compute.judging import Outcome, Rules
from inspection.compute.night import PartPosition
from inspection.compute.remedies import (
    Remedy,
    Wish,
    Work,
    WorkRemedy,
    remedies,
    what_would_help,
    work_remedies,
)
from inspection.compute.what_if import Stock, TyresNotMeasuredError
from inspection.loaders.block.fields import gauge_numbers
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.fit.cars import (
    envelope_of,
    load_fitted,
    load_rooms,
    rulebook_of,
)
from inspection.loaders.fit.parts import (
    gears_of,
    load_columns,
    motors_of,
    to_be_had,
)
from inspection.loaders.fit.tyre_pairs import TyrePairs, load_pairs
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.models import FittedPart, Sheet
from inspection.words.remedies import wish_words, work_words
from inventory.compute.arrays import Ints
from inventory.compute.stock import GearRole, PartKind, PartState
from inventory.loaders.parts import FACT_TABLES
from inventory.models import Part

_TRUING: Final = (Work.TRUE_DOWN, Work.TRUE_ONE)
#: More than this is a list that nobody reads while the race waits.
SHOWN: Final = 12


@dataclass(frozen=True, kw_only=True)
class CuredRule:
    """A rule that kept the car from passing, and what it would find."""

    rule: LoadedRule
    outcome: Outcome
    margin: float | None


@dataclass(frozen=True, kw_only=True)
class RemedyLine:
    """Parts that would make the car legal."""

    parts: tuple[tuple[PartPosition, Part], ...]
    rollout_mm: float | None
    change_percent: float | None
    cured: tuple[CuredRule, ...]
    fit_checked: bool

    @property
    def tags(self) -> str:
        """Names it in a form."""
        return "+".join(part.tag for _, part in self.parts)

    @property
    def just_parts(self) -> tuple[Part, ...]:
        """The parts without their places."""
        return tuple(part for _, part in self.parts)

    @property
    def may_be_reserved(self) -> bool:
        """Whether all of it lies in stock."""
        return all(part.state == PartState.IN_STOCK for _, part in self.parts)


@dataclass(frozen=True, kw_only=True)
class Cure:
    """Work, or a part that is not to be had, and the rules that it would cure."""

    sentence: str
    rules: tuple[LoadedRule, ...]
    makes_legal: bool
    is_truing: bool = False


@dataclass(frozen=True, kw_only=True)
class SheetRemedies:
    """All that would help a car, as far as is known."""

    lines: tuple[RemedyLine, ...]
    count: int
    work: tuple[Cure, ...]
    wishes: tuple[Cure, ...]
    unread: tuple[LoadedRule, ...]
    tyres_are_missing: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class _Drawers:
    """The stock as tables, and which parts its rows are."""

    stock: Stock
    pairs: TyrePairs
    gears: Ints
    motors: Ints

    def keys(self, remedy: Remedy) -> dict[PartPosition, int]:
        keys: dict[PartPosition, int] = {}
        if remedy.pair is not None:
            keys[PartPosition.REAR_LEFT] = int(self.pairs.left[remedy.pair])
            keys[PartPosition.REAR_RIGHT] = int(self.pairs.right[remedy.pair])
        if remedy.gear is not None:
            keys[PartPosition.GEAR] = int(self.gears[remedy.gear])
        if remedy.motor is not None:
            keys[PartPosition.MOTOR] = int(self.motors[remedy.motor])
        return keys


def load_remedies(loaded: LoadedSheet) -> SheetRemedies:
    """Find what would make the car of a sheet legal; a handful of queries."""
    stage = loaded.sheet.stage
    rulebook = rulebook_of(loaded.edition, loaded.rules, loaded.field, stage=stage)
    car = loaded.sheet.entry.car
    envelope = envelope_of(
        loaded.field,
        rulebook,
        load_fitted([car.pk]).get(car.pk, {}),
        load_rooms([car.pk]).get(car.pk, {}),
    )
    unread = tuple(
        finding.rule
        for finding in loaded.refused
        if finding.outcome is Outcome.NOT_MEASURED
    )
    try:
        return _search(loaded, rulebook, envelope, unread)
    except TyresNotMeasuredError:
        return SheetRemedies(
            lines=(), count=0, work=(), wishes=(), unread=unread, tyres_are_missing=True
        )


def _search(
    loaded: LoadedSheet,
    rulebook: Rules,
    envelope: Envelope,
    unread: tuple[LoadedRule, ...],
) -> SheetRemedies:
    drawers = _drawers(loaded, envelope)
    field = loaded.field
    offered = remedies(
        rulebook, field, drawers.stock, envelope=envelope, leave_unread=True
    )
    if not offered:
        # What cannot be checked for want of a size may still be worth trying on.
        offered = remedies(rulebook, field, drawers.stock, leave_unread=True)
    offered = _without_more_than_needed(offered)
    wishes = () if offered else what_would_help(rulebook, field)
    work = work_remedies(rulebook, field)
    return SheetRemedies(
        lines=_lines(loaded, drawers, offered[:SHOWN]),
        count=len(offered),
        work=tuple(_cure(one, loaded.rules) for one in work),
        wishes=tuple(_cure(one, loaded.rules) for one in wishes),
        unread=unread,
    )


def _without_more_than_needed(offered: list[Remedy]) -> list[Remedy]:
    """Leave out two changes of which one is enough."""
    singles = [one for one in offered if one.change_count == 1]
    return [
        one
        for one in offered
        if one.change_count == 1 or not any(_holds(one, single) for single in singles)
    ]


def _holds(remedy: Remedy, single: Remedy) -> bool:
    return any(
        mine is not None and mine == its
        for mine, its in (
            (single.pair, remedy.pair),
            (single.gear, remedy.gear),
            (single.motor, remedy.motor),
        )
    )


def _drawers(loaded: LoadedSheet, envelope: Envelope) -> _Drawers:
    car = loaded.sheet.entry.car
    parts = Part.objects.filter(to_be_had(car.owner))
    gauges = gauge_numbers(loaded.values)
    role = GearRole.CROWN if bool(envelope.in_line[0]) else GearRole.SPUR
    pairs = load_pairs(parts, gauges=gauges)
    gears = load_columns(parts.filter(gear__role=role), PartKind.GEAR, gauges=gauges)
    motors = load_columns(parts, PartKind.MOTOR, gauges=gauges)
    return _Drawers(
        stock=Stock(pairs=pairs.table, gears=gears_of(gears), motors=motors_of(motors)),
        pairs=pairs,
        gears=gears.pk,
        motors=motors.pk,
    )


def _lines(
    loaded: LoadedSheet, drawers: _Drawers, offered: list[Remedy]
) -> tuple[RemedyLine, ...]:
    places = [drawers.keys(remedy) for remedy in offered]
    parts = Part.objects.select_related(*FACT_TABLES).in_bulk(
        {key for keys in places for key in keys.values()}
    )
    return tuple(
        RemedyLine(
            parts=tuple((position, parts[key]) for position, key in keys.items()),
            rollout_mm=_known(remedy.rollout_mm),
            change_percent=_known(remedy.rollout_change_percent),
            cured=_cured(loaded, remedy),
            fit_checked=remedy.fit_checked,
        )
        for remedy, keys in zip(offered, places, strict=True)
    )


def _cured(loaded: LoadedSheet, remedy: Remedy) -> tuple[CuredRule, ...]:
    places = {rule.pk: place for place, rule in enumerate(loaded.rules)}
    return tuple(
        CuredRule(
            rule=finding.rule,
            outcome=remedy.outcome[places[finding.rule.pk]],
            margin=_known(remedy.margin[places[finding.rule.pk]]),
        )
        for finding in loaded.refused
        if finding.outcome is not Outcome.NOT_MEASURED
    )


def _cure(one: WorkRemedy | Wish, rules: tuple[LoadedRule, ...]) -> Cure:
    return Cure(
        sentence=work_words(one) if isinstance(one, WorkRemedy) else wish_words(one),
        rules=tuple(rules[place] for place in one.cures),
        makes_legal=one.makes_legal,
        is_truing=isinstance(one, WorkRemedy) and one.work in _TRUING,
    )


def parts_put_on_since(sheet: Sheet) -> list[FittedPart]:
    """Give what was put on the car after its sheet was sealed."""
    if not sheet.is_sealed:
        return []
    return list(
        FittedPart.objects.filter(
            car=sheet.entry.car, removed_at=None, fitted_at__gt=sheet.seal.sealed_at
        )
        .select_related("part")
        .order_by("position")
    )


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
