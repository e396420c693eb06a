"""The steps of the block page: what is asked, how it is taken, what was read."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from inspection.compute.quantities import (
    Kind,
    Quantity,
    Side,
    Source,
    column_owner,
)
from inspection.compute.rulebooks import Answer, Evidence
from inspection.loaders.block.readings import is_struck, load_readings
from inspection.loaders.block.sheets import LoadedSheet, quantity_of, takeable_of
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.models import SheetReading
from inspection.words.other_gauges import for_want_words, not_again_words
from inspection.words.quantities import column_name
from inventory.compute.measuring import NOT_FOR_PARTS, Instrument
from inventory.compute.numbers import exact_decimals
from inventory.loaders.gauges import LoadedGauge

SLIPS = frozenset({Instrument.SLIP_GAUGE, Instrument.FEELER, Instrument.GO_PLATE})


class StepKind(StrEnum):
    """How a step is answered."""

    NUMBER = "number"
    SLIPS = "slips"
    COUNT = "count"
    LOOK = "look"


class StepGroup(StrEnum):
    """Why a step is there."""

    TONIGHT = "tonight"
    ALSO = "may be taken"
    STORED = "stored"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to read on this car."""

    column: str
    quantity: Quantity
    side: Side | None
    kind: StepKind
    group: StepGroup
    value: ColumnValue | None
    readings: tuple[SheetReading, ...]
    limit: float | None
    gauges: tuple[LoadedGauge, ...]
    #: Could take it, and may not be used.
    barred: tuple[LoadedGauge, ...]
    #: Read it on the sheet that is protested against; others take their place.
    not_again: tuple[LoadedGauge, ...] = ()
    #: Read it there too, and are among the gauges for want of another.
    for_want: tuple[LoadedGauge, ...] = ()
    #: The answer that is as it should be, where the edition lets it be given with
    #: those of the other looks.
    at_once: Answer | None = None

    @property
    def label(self) -> str:
        return column_name(self.column)

    @property
    def limit_text(self) -> str:
        """The limit slip, as it is typed."""
        if self.limit is None:
            return ""
        decimals = exact_decimals(self.limit, least=self.quantity.decimals)
        return f"{self.limit:.{decimals}f}"

    @property
    def text(self) -> str:
        """What counts now, as it is shown; of a limit slip, the side of it."""
        if self.value is None:
            return ""
        sign = {True: "≥ ", False: "< ", None: ""}[self.value.went_under]
        return f"{sign}{self.value.text}"

    @property
    def is_done(self) -> bool:
        return bool(self.value and self.value.reading_ids)

    @property
    def is_asked(self) -> bool:
        """Whether the page asks it by itself: tonight's, and gaps in the record."""
        if self.group is StepGroup.STORED:
            if self.value is not None and self.value.is_only_declared:
                return True
            is_gap = self.value is None and self.quantity.default is None
            return is_gap or self.is_done
        return self.group is StepGroup.TONIGHT

    @property
    def is_carried(self) -> bool:
        return bool(self.value and self.value.source is Source.CARRIED)

    @property
    def usual_gauges(self) -> tuple[LoadedGauge, ...]:
        """What may be chosen beforehand: none that read it before, if others are."""
        fresh = tuple(one for one in self.gauges if one not in self.for_want)
        return fresh or self.gauges

    @property
    def not_again_words(self) -> str:
        """Why a gauge that could take it is not offered for a protest."""
        return not_again_words(one.mode.gauge.name for one in self.not_again)

    @property
    def for_want_words(self) -> str:
        """Why a gauge is offered for a protest though it read this before."""
        return for_want_words(one.mode.gauge.name for one in self.for_want)


def load_steps(loaded: LoadedSheet, gauges: list[LoadedGauge]) -> tuple[Step, ...]:
    """Give tonight's steps in order of handling, then what else may be taken."""
    groups = {
        StepGroup.TONIGHT: loaded.to_take.tonight,
        StepGroup.ALSO: dict.fromkeys(takeable_of(loaded.rules, loaded.to_take)),
        StepGroup.STORED: loaded.to_take.stored,
    }
    offer = _Offer(
        gauges=gauges,
        before=_protested(loaded) if gauges else [],
        limits=_limits(loaded),
        at_once=_at_once(loaded.rules),
        readings=_by_column(loaded.readings),
    )
    return tuple(
        _step(loaded, column, offer, group=group)
        for group, columns in groups.items()
        for column in columns
    )


def next_step(steps: tuple[Step, ...]) -> Step | None:
    """Give the first step that is asked and not done."""
    return next((step for step in steps if step.is_asked and not step.is_done), None)


def gauges_used(before: Iterable[SheetReading], column: str) -> frozenset[int]:
    """Give the gauges that read a column, by what was not struck."""
    return frozenset(
        one.gauge_mode.gauge_id
        for one in before
        if one.column == column and one.gauge_mode is not None and not is_struck(one)
    )


def in_place_of(
    gauge: LoadedGauge, gauges: Iterable[LoadedGauge], *, but: Collection[int]
) -> list[LoadedGauge]:
    """Give the gauges of the same kind that may be used instead, but for some."""
    return [
        one
        for one in gauges
        if one.mode.gauge_id not in but and one.may_stand_in_for(gauge)
    ]


@dataclass(frozen=True, kw_only=True)
class _Offer:
    """
    What steps are made of: the club's gauges, and what was read, by column.

    ``before`` is what was read on a sheet that is protested against; ``limits`` and
    ``at_once`` are by quantity.
    """

    gauges: list[LoadedGauge]
    before: list[SheetReading]
    limits: Mapping[str, float]
    at_once: Mapping[str, Answer]
    readings: Mapping[str, list[SheetReading]]


def _protested(loaded: LoadedSheet) -> list[SheetReading]:
    sheet = loaded.sheet
    return load_readings(sheet.previous_id) if sheet.is_for_protest else []


def _step(loaded: LoadedSheet, column: str, offer: _Offer, *, group: StepGroup) -> Step:
    key, side = column_owner(column)
    quantity = quantity_of(column)
    fitting = _fitting(quantity, offer.gauges)
    used = gauges_used(offer.before, column)
    usable = [one for one in fitting if not one.is_barred]
    again = [one for one in usable if one.mode.gauge_id in used]
    not_again = [one for one in again if in_place_of(one, usable, but=used)]
    for_want = tuple(one for one in again if one not in not_again)
    return Step(
        column=column,
        quantity=quantity,
        side=side,
        kind=_kind(quantity),
        group=group,
        value=loaded.values.get(column),
        readings=tuple(offer.readings.get(column, ())),
        limit=offer.limits.get(key),
        gauges=(*(one for one in usable if one not in again), *for_want),
        barred=tuple(one for one in fitting if one.is_barred),
        not_again=tuple(not_again),
        for_want=for_want,
        at_once=offer.at_once.get(key),
    )


def _by_column(readings: Iterable[SheetReading]) -> dict[str, list[SheetReading]]:
    by_column: dict[str, list[SheetReading]] = {}
    for one in readings:
        by_column.setdefault(one.column, []).append(one)
    return by_column


def _at_once(rules: Iterable[LoadedRule]) -> dict[str, Answer]:
    """Give the answer that every rule of a look asks, where one marks it so."""
    answers: dict[str, set[Answer | None]] = {}
    marked = set()
    for rule in rules:
        answers.setdefault(rule.quantity.key, set()).add(rule.required)
        if rule.evidence is Evidence.AT_ONCE:
            marked.add(rule.quantity.key)
    asked = ((key, answers[key]) for key in marked if len(answers[key]) == 1)
    return {key: answer for key, (answer,) in asked if answer is not None}


def answered_at_once(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Give the looks that are still asked and may be answered together."""
    return tuple(
        step
        for step in steps
        if step.at_once is not None and step.is_asked and not step.is_done
    )


def _kind(quantity: Quantity) -> StepKind:
    if quantity.kind is Kind.LOOKED_AT:
        return StepKind.LOOK
    if quantity.kind is Kind.COUNTED:
        return StepKind.COUNT
    if quantity.gauges and quantity.gauges[0] in SLIPS:
        return StepKind.SLIPS
    return StepKind.NUMBER


def _limits(loaded: LoadedSheet) -> dict[str, float]:
    """Give each quantity's limit slip: its strictest lower limit, else its upper."""
    ours = {rule.pk for rule in loaded.rules}
    lower: dict[str, float] = {}
    upper: dict[str, float] = {}
    for finding in loaded.findings:
        key = finding.rule.quantity.key
        if finding.rule.pk not in ours:
            continue
        if finding.lower is not None:
            lower[key] = max(finding.lower, lower.get(key, finding.lower))
        if finding.upper is not None:
            upper[key] = min(finding.upper, upper.get(key, finding.upper))
    return upper | lower


def _fitting(quantity: Quantity, gauges: list[LoadedGauge]) -> tuple[LoadedGauge, ...]:
    """Give the gauges that can take it: the usual kind first, its own mode first."""
    if quantity.kind in {Kind.LOOKED_AT, Kind.COUNTED}:
        return ()
    fitting = [
        one
        for one in gauges
        if one.mode.unit == quantity.unit and _can_take(quantity, one)
    ]

    def rank(one: LoadedGauge) -> tuple[int, bool]:
        instrument = one.mode.gauge.instrument
        usual = (
            quantity.gauges.index(instrument)
            if instrument in quantity.gauges
            else len(quantity.gauges)
        )
        return usual, one.mode.mode != (quantity.mode or "outside")

    return tuple(sorted(fitting, key=rank))


def _can_take(quantity: Quantity, one: LoadedGauge) -> bool:
    """Whether an instrument reads such a quantity: a slip tells a gap, not a size."""
    instrument = one.mode.gauge.instrument
    return instrument in quantity.gauges or instrument not in NOT_FOR_PARTS
