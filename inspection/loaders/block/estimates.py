"""What a set of readings on the block says, and whether two of them can both stand."""

from collections.abc import Mapping
from functools import lru_cache
from typing import Final, TypeAlias

from inspection.compute.night import ReadingKind
from inspection.compute.quantities import QUANTITIES, Quantity, column_owner
from inspection.loaders.block.own_scatter import ScatterKey
from inspection.models import SheetReading
from inventory.compute.measuring import (
    Estimate,
    Gauge,
    GoGauge,
    OwnScatter,
    estimate,
    estimate_by_own,
    estimate_round,
    go_gauge,
    interval_estimate,
    sets_disagree,
)
from inventory.compute.numbers import from_millionths
from inventory.loaders.gauges import compute_gauge
from inventory.models import GaugeMode

#: What people's repeats scatter by, where the club lets that count.
OwnScatters: TypeAlias = Mapping[ScatterKey, OwnScatter]
_EXACT: Final = Gauge(0.0, 0.0, 0.0)


def gauge_on(mode: GaugeMode | None, quantity: Quantity) -> Gauge:
    """Give a gauge in a mode, on a quantity, its three figures."""
    if mode is None:
        return _EXACT
    return compute_gauge(mode, least_repeatability=quantity.repeatability)


def estimate_of_set(
    column: str, rows: list[SheetReading], own: OwnScatters
) -> Estimate:
    """Estimate a column from one set of its readings."""
    last = rows[-1]
    quantity = QUANTITIES[column_owner(column)[0]]
    gauge = gauge_on(last.gauge_mode, quantity)
    match last.kind:
        case ReadingKind.LOOK:
            return _repeated((float(last.answer == "yes"),), _EXACT)
        case ReadingKind.COUNT:
            return _repeated((_unit(last.value),), _EXACT)
        case ReadingKind.GO_GAUGE:
            return _repeated((_unit(last.value),), gauge)
        case ReadingKind.INTERVAL:
            return _between(_unit(last.low), _unit(last.high), gauge)
        case ReadingKind.VALUE:
            kin = [_unit(row.value) for row in rows if row.kind == ReadingKind.VALUE]
            on = last.gauge_mode.gauge_id if last.gauge_mode else 0
            mine = own.get((last.by_id, on, quantity.key))
            return estimate_of(quantity, kin, gauge, mine)


def estimate_of(
    quantity: Quantity,
    readings: list[float],
    gauge: Gauge,
    own: OwnScatter | None = None,
) -> Estimate:
    """Estimate from repeats; those of a tyre go round it."""
    return _repeated(tuple(readings), gauge, own, is_round=quantity.is_round)


# A page asks again for what each reading of its sheet said, a number at a time; the
# same readings off the same gauge say the same.
@lru_cache(maxsize=10_000)
def _repeated(
    readings: tuple[float, ...],
    gauge: Gauge,
    own: OwnScatter | None = None,
    *,
    is_round: bool = False,
) -> Estimate:
    if own is not None:
        return estimate_by_own(readings, gauge, own, is_round=is_round)
    return estimate_round(readings, gauge) if is_round else estimate(readings, gauge)


@lru_cache(maxsize=1_000)
def _between(low: float, high: float, gauge: Gauge) -> Estimate:
    return interval_estimate(low, high, gauge)


def _unit(millionths: int | None) -> float:
    return from_millionths(millionths or 0)


def sets_clash(
    column: str,
    latest: list[SheetReading],
    other: list[SheetReading],
    own: OwnScatters,
) -> bool:
    """Whether a set contradicts the latest one, so that one has to be struck."""
    if other is latest:
        return False
    first, second = latest[-1], other[-1]
    sets = {(one.gauge_mode_id, one.gauge_check_id) for one in (first, second)}
    same = len(sets) == 1 and first.gauge_mode_id is not None
    one, two = (_said(column, rows, own) for rows in (other, latest))
    return sets_disagree(one, two, same_gauge=same)


def _said(
    column: str, rows: list[SheetReading], own: OwnScatters
) -> Estimate | GoGauge:
    last = rows[-1]
    if last.kind != ReadingKind.GO_GAUGE:
        return estimate_of_set(column, rows, own)
    gauge = gauge_on(last.gauge_mode, QUANTITIES[column_owner(column)[0]])
    return go_gauge(_unit(last.value), last.answer == "yes", gauge)
