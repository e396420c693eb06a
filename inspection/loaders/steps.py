"""The steps of the block page: what is asked, how it is taken, what was read."""

from dataclasses import dataclass
from enum import StrEnum

from inspection.compute.quantities import Kind, Quantity, Side, column_owner
from inspection.compute.sources import Source
from inspection.loaders.sheets import LoadedSheet, quantity_of, takeable_of
from inspection.loaders.values import ColumnValue, is_struck
from inspection.models import SheetReading
from inventory.compute.instruments import Instrument
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

    @property
    def label(self) -> str:
        side = f", {self.side}" if self.side else ""
        return f"{self.quantity.label}{side}"

    @property
    def limit_text(self) -> str:
        """The limit slip, as it is typed."""
        return "" if self.limit is None else f"{self.limit:.{self.quantity.decimals}f}"

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
            is_gap = self.value is None and self.quantity.default is None
            return is_gap or self.is_done
        return self.group is StepGroup.TONIGHT

    @property
    def is_carried(self) -> bool:
        return bool(self.value and self.value.source is Source.CARRIED)

    @property
    def counting(self) -> tuple[SheetReading, ...]:
        """The readings that were not struck."""
        return tuple(one for one in self.readings if not is_struck(one))


def load_steps(loaded: LoadedSheet, gauges: list[LoadedGauge]) -> tuple[Step, ...]:
    """Give tonight's steps in order of handling, then what else may be taken."""
    groups = {
        StepGroup.TONIGHT: loaded.to_take.tonight,
        StepGroup.ALSO: dict.fromkeys(takeable_of(loaded.rules, loaded.to_take)),
        StepGroup.STORED: loaded.to_take.stored,
    }
    return tuple(
        _step(loaded, column, gauges, group=group)
        for group, columns in groups.items()
        for column in columns
    )


def next_step(steps: tuple[Step, ...]) -> Step | None:
    """Give the first step that is asked and not done."""
    return next((step for step in steps if step.is_asked and not step.is_done), None)


def _step(
    loaded: LoadedSheet, column: str, gauges: list[LoadedGauge], *, group: StepGroup
) -> Step:
    key, side = column_owner(column)
    quantity = quantity_of(column)
    return Step(
        column=column,
        quantity=quantity,
        side=side,
        kind=_kind(quantity),
        group=group,
        value=loaded.values.get(column),
        readings=tuple(r for r in loaded.readings if r.column == column),
        limit=_limit(loaded, key),
        gauges=_fitting(quantity, gauges),
    )


def _kind(quantity: Quantity) -> StepKind:
    if quantity.kind is Kind.LOOKED_AT:
        return StepKind.LOOK
    if quantity.kind is Kind.COUNTED:
        return StepKind.COUNT
    if quantity.gauges and quantity.gauges[0] in SLIPS:
        return StepKind.SLIPS
    return StepKind.NUMBER


def _limit(loaded: LoadedSheet, key: str) -> float | None:
    """Give the limit slip of a quantity: the strictest lower limit, else upper."""
    asked = [found for found in loaded.findings if found.rule.quantity.key == key]
    lower = [found.lower for found in asked if found.lower is not None]
    upper = [found.upper for found in asked if found.upper is not None]
    return max(lower) if lower else min(upper, default=None)


def _fitting(quantity: Quantity, gauges: list[LoadedGauge]) -> tuple[LoadedGauge, ...]:
    """Give the gauges that can take it: the usual kind first, its own mode first."""
    if quantity.kind in {Kind.LOOKED_AT, Kind.COUNTED}:
        return ()
    fitting = [one for one in gauges if one.mode.unit == quantity.unit]

    def rank(one: LoadedGauge) -> tuple[int, bool, bool]:
        instrument = Instrument(one.mode.gauge.instrument)
        usual = (
            quantity.gauges.index(instrument)
            if instrument in quantity.gauges
            else len(quantity.gauges)
        )
        return usual, one.mode.mode != (quantity.mode or "outside"), one.is_barred

    return tuple(sorted(fitting, key=rank))
