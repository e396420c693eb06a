"""The steps of the block page: what is asked, how it is taken, what was read."""

from dataclasses import dataclass
from enum import StrEnum

from inspection.compute.quantities import Kind, Quantity, Side, column_owner
from inspection.compute.sources import Source
from inspection.loaders.sheets import LoadedSheet, quantity_of, takeable_of
from inspection.loaders.values import ColumnValue
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


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to read on this car."""

    column: str
    quantity: Quantity
    side: Side | None
    kind: StepKind
    is_tonight: bool
    value: ColumnValue | None
    readings: tuple[SheetReading, ...]
    limit: float | None
    gauges: tuple[LoadedGauge, ...]

    @property
    def label(self) -> str:
        side = f", {self.side}" if self.side else ""
        return f"{self.quantity.label}{side}"

    @property
    def is_done(self) -> bool:
        return bool(self.value and self.value.reading_ids)

    @property
    def is_carried(self) -> bool:
        return bool(self.value and self.value.source is Source.CARRIED)


def load_steps(loaded: LoadedSheet, gauges: list[LoadedGauge]) -> tuple[Step, ...]:
    """Give tonight's steps in order of handling, then what else may be taken."""
    tonight = [(column, True) for column in loaded.to_take.tonight]
    also = dict.fromkeys(takeable_of(loaded.rules, loaded.to_take))
    stored = [(column, False) for column in [*also, *loaded.to_take.stored]]
    return tuple(
        _step(loaded, column, gauges, is_tonight=is_tonight)
        for column, is_tonight in [*tonight, *stored]
    )


def _step(
    loaded: LoadedSheet, column: str, gauges: list[LoadedGauge], *, is_tonight: bool
) -> Step:
    key, side = column_owner(column)
    quantity = quantity_of(column)
    return Step(
        column=column,
        quantity=quantity,
        side=side,
        kind=_kind(quantity),
        is_tonight=is_tonight,
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
    limits = [f.lower for f in loaded.findings if f.rule.quantity.key == key]
    known = [limit for limit in limits if limit is not None]
    return max(known, default=None)


def _fitting(quantity: Quantity, gauges: list[LoadedGauge]) -> tuple[LoadedGauge, ...]:
    """Give the gauges that can take it: the usual kind first, its own mode first."""
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
