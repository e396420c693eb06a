"""The value that a rule sees of each column, and where it comes from."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import F, FilteredRelation, Q

from inspection.compute.entries import PartPosition, ReadingKind
from inspection.compute.quantities import QUANTITIES, Kind, Quantity, column_owner
from inspection.compute.sources import PART_COLUMNS, TEETH_COLUMNS, Source
from inspection.models import Car, CarValue, Sheet, SheetPart, SheetReading
from inventory.compute.conflicts import set_difference
from inventory.compute.errors import ComputeError
from inventory.compute.gearing import true_outside_diameter_mm
from inventory.compute.measuring import (
    Estimate,
    Gauge,
    estimate,
    interval_estimate,
)
from inventory.compute.stock import PartQuantity
from inventory.compute.units import format_value
from inventory.models import GaugeMode

#: A gauge since its last check: what shares a number shares its error.
GaugeKey = tuple[int, int | None]
_EXACT = Gauge(0.0, 0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class ColumnValue:
    """What counts for one column, in its quantity's unit."""

    column: str
    value: float
    random: float = 0.0
    systematic: float = 0.0
    gauge: GaugeKey | None = None
    gauge_name: str = ""
    source: Source
    reading_ids: tuple[int, ...] = ()
    has_conflict: bool = False
    went_under: bool | None = None

    @property
    def quantity(self) -> Quantity:
        return QUANTITIES[column_owner(self.column)[0]]

    @property
    def label(self) -> str:
        side = column_owner(self.column)[1]
        return f"{self.quantity.label}, {side}" if side else self.quantity.label

    @property
    def text(self) -> str:
        """The value as it is shown: a word, yes or no, or a number."""
        quantity = self.quantity
        if quantity.words is not None:
            return list(quantity.words)[round(self.value)].value
        if quantity.kind is Kind.LOOKED_AT:
            return "yes" if self.value else "no"
        return format_value(self.value, decimals=quantity.decimals, unit=quantity.unit)


def is_struck(reading: SheetReading) -> bool:
    """Whether a reading loaded with its strike no longer counts."""
    return hasattr(reading, "strike")


def load_readings(*sheets: Sheet | int | None) -> list[SheetReading]:
    """Read the readings of sheets, oldest first, with all that is said of them."""
    return list(
        SheetReading.objects.filter(
            sheet__in=[sheet for sheet in sheets if sheet is not None]
        )
        .select_related(
            "gauge_mode__gauge",
            "gauge_check",
            "by",
            "strike__by",
            "carried_from__sheet",
        )
        .order_by("id")
    )


def values_of_sheet(
    sheet: Sheet, readings: Iterable[SheetReading]
) -> dict[str, ColumnValue]:
    """
    Give the value of each column that has one, the nearest source first.

    This sheet's readings, then carried ones, then the fitted parts' estimates,
    then the car's stored geometry, then what is declared.
    """
    values = stored_values(sheet.entry.car)
    values |= _part_values(sheet)
    values |= values_of_readings(readings)
    return values | over_the_tips(values)


def over_the_tips(
    values: Mapping[str, ColumnValue],
    sources: Collection[Source] = (Source.TAKEN, Source.CARRIED, Source.STORED),
) -> dict[str, ColumnValue]:
    """
    Correct a gear's diameter, read on the car, by its count of teeth.

    Flat jaws over an odd count read short.  A fitted part's own estimate is
    corrected already, so is what a seal keeps; a slip that goes or stops says what
    it says.
    """
    read, teeth = values.get("gear_diameter"), values.get("teeth_gear")
    if read is None or teeth is None or read.went_under is not None:
        return {}
    if read.source not in sources:
        return {}
    try:
        true = true_outside_diameter_mm(read.value, round(teeth.value))
    except ComputeError:
        # Somebody said that this is right: it is judged as it was read.
        return {}
    factor = true / read.value
    return {
        read.column: replace(
            read,
            value=true,
            random=read.random * factor,
            systematic=read.systematic * factor,
        )
    }


def stored_values(car: Car) -> dict[str, ColumnValue]:
    """Give the car's stored geometry; what has no gauge is declared."""
    rows = CarValue.objects.current().filter(car=car)
    rows = rows.select_related("gauge_mode__gauge")
    return {row.column: stored_value(row) for row in rows}


def values_of_readings(readings: Iterable[SheetReading]) -> dict[str, ColumnValue]:
    """Give each column its latest set: one person, one gauge, repeats averaged."""
    by_column: dict[str, list[SheetReading]] = defaultdict(list)
    for reading in readings:
        if not is_struck(reading):
            by_column[reading.column].append(reading)
    return {column: _from_sets(column, rows) for column, rows in by_column.items()}


def compute_gauge(mode: GaugeMode | None, quantity: Quantity) -> Gauge:
    """Give a gauge in a mode, on a quantity, its three figures."""
    if mode is None:
        return _EXACT
    return Gauge(
        mode.resolution / 1e6,
        mode.max_permissible_error / 1e6,
        max(mode.repeatability / 1e6, quantity.repeatability),
    )


def _from_sets(column: str, rows: list[SheetReading]) -> ColumnValue:
    fresh = [row for row in rows if row.carried_from_id is None]
    source = Source.TAKEN if fresh else Source.CARRIED
    sets: dict[tuple[int, int | None], list[SheetReading]] = defaultdict(list)
    for row in fresh or rows:
        mode = row.gauge_mode
        sets[row.by_id, mode.gauge_id if mode else None].append(row)
    latest = max(sets.values(), key=lambda one: one[-1].pk)
    found = _from_set(column, latest, source)
    clash = any(_disagree(column, latest, one) for one in sets.values())
    return found if not clash else _with_conflict(found)


def _with_conflict(value: ColumnValue) -> ColumnValue:
    return replace(value, has_conflict=True)


def _from_set(column: str, rows: list[SheetReading], source: Source) -> ColumnValue:
    last = rows[-1]
    said = _estimate(column, rows)
    mode = last.gauge_mode
    return ColumnValue(
        column=column,
        value=said.value,
        random=said.random,
        systematic=said.systematic,
        gauge=(mode.gauge_id, last.gauge_check_id) if mode else None,
        gauge_name=mode.gauge.name if mode else "",
        source=source,
        reading_ids=tuple(row.pk for row in rows),
        went_under=(
            last.answer == "yes" if last.kind == ReadingKind.GO_GAUGE else None
        ),
    )


def _estimate(column: str, rows: list[SheetReading]) -> Estimate:
    last = rows[-1]
    quantity = QUANTITIES[column_owner(column)[0]]
    gauge = compute_gauge(last.gauge_mode, quantity)
    match ReadingKind(last.kind):
        case ReadingKind.LOOK:
            return estimate([float(last.answer == "yes")], _EXACT)
        case ReadingKind.COUNT:
            return estimate([_unit(last.value)], _EXACT)
        case ReadingKind.GO_GAUGE:
            return estimate([_unit(last.value)], gauge)
        case ReadingKind.INTERVAL:
            return interval_estimate(_unit(last.low), _unit(last.high), gauge)
        case ReadingKind.VALUE:
            kin = [_unit(row.value) for row in rows if row.kind == ReadingKind.VALUE]
            return estimate(kin, gauge)


def _unit(millionths: int | None) -> float:
    return (millionths or 0) / 1e6


def _disagree(
    column: str, latest: list[SheetReading], other: list[SheetReading]
) -> bool:
    if other is latest or latest[-1].kind != other[-1].kind:
        return False
    first, second = _estimate(column, other), _estimate(column, latest)
    same = (
        latest[-1].gauge_mode is not None
        and other[-1].gauge_mode is not None
        and latest[-1].gauge_mode.gauge_id == other[-1].gauge_mode.gauge_id
    )
    return set_difference(first, second, same_gauge=same).conflict


def stored_value(row: CarValue) -> ColumnValue:
    """Give what one row of a car's stored geometry says."""
    quantity = QUANTITIES[column_owner(row.column)[0]]
    if quantity.words is not None or row.gauge_mode is None:
        return ColumnValue(
            column=row.column, value=row.value / 1e6, source=Source.DECLARED
        )
    said = estimate([row.value / 1e6], compute_gauge(row.gauge_mode, quantity))
    return ColumnValue(
        column=row.column,
        value=said.value,
        random=said.random,
        systematic=said.systematic,
        gauge=(row.gauge_mode.gauge_id, row.gauge_check_id),
        gauge_name=row.gauge_mode.gauge.name,
        source=Source.STORED,
    )


def _part_values(sheet: Sheet) -> dict[str, ColumnValue]:
    """Give what the current estimates of a sheet's parts say, in one query."""
    rows = (
        SheetPart.objects.filter(sheet=sheet)
        .annotate(
            latest=FilteredRelation(
                "part__estimates", condition=Q(part__estimates__superseded_at=None)
            )
        )
        .values(
            "position",
            teeth=F("part__gear__teeth"),
            quantity=F("latest__quantity"),
            value=F("latest__value"),
            random=F("latest__random"),
            systematic=F("latest__systematic"),
            gauge_id=F("latest__gauge_mode__gauge"),
            gauge_name=F("latest__gauge_mode__gauge__name"),
            check_id=F("latest__gauge_check"),
        )
    )
    found: dict[str, ColumnValue] = {}
    for row in rows:
        found |= values_of_part(row)
    return found


def values_of_part(row: Mapping[str, Any]) -> dict[str, ColumnValue]:
    """Give what one estimate of a part, and its teeth, say of the car it sits on."""
    position = PartPosition(row["position"])
    found: dict[str, ColumnValue] = {}
    if row["teeth"] is not None and position in TEETH_COLUMNS:
        column = TEETH_COLUMNS[position]
        found[column] = ColumnValue(
            column=column, value=float(row["teeth"]), source=Source.FITTED_PART
        )
    if row["quantity"] is None:
        return found
    measured = PART_COLUMNS.get((position, PartQuantity(row["quantity"])))
    if measured is not None:
        found[measured] = ColumnValue(
            column=measured,
            value=row["value"] / 1e6,
            random=row["random"] / 1e6,
            systematic=row["systematic"] / 1e6,
            gauge=(row["gauge_id"], row["check_id"]) if row["gauge_id"] else None,
            gauge_name=row["gauge_name"] or "",
            source=Source.FITTED_PART,
        )
    return found


def sealed_values(content: str) -> dict[str, ColumnValue]:
    """Give the values that a seal was put under, as its content says them."""
    return {row["column"]: _sealed(row) for row in json.loads(content)["values"]}


def _sealed(row: dict[str, Any]) -> ColumnValue:
    gauge = row["gauge"]
    return ColumnValue(
        column=row["column"],
        value=row["value"] / 1e6,
        random=row["random"] / 1e6,
        systematic=row["systematic"] / 1e6,
        gauge=(gauge[0], gauge[1]) if gauge else None,
        source=Source(row["source"]),
        reading_ids=tuple(row["readings"]),
        went_under=row["went_under"],
    )
