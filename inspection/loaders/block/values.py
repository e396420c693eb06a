"""The value that a rule sees of each column, and where it comes from."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final, TypeAlias

from django.db.models import F, FilteredRelation, OuterRef, Q, QuerySet

from inspection.compute.night import PartPosition, ReadingKind
from inspection.compute.quantities import (
    ON_THE_BLOCK,
    PART_COLUMNS,
    QUANTITIES,
    TEETH_COLUMNS,
    WORDS_OF_CAR,
    Kind,
    Quantity,
    Source,
    Witness,
    column_owner,
    nearest,
)
from inspection.compute.stance import AT_LEAST, AT_MOST, BETWEEN, VALUE
from inspection.loaders.block.doubts import with_doubt
from inspection.loaders.block.estimates import (
    OwnScatters,
    estimate_of,
    estimate_of_set,
    gauge_on,
    sets_clash,
)
from inspection.loaders.block.own_scatter import own_scatters
from inspection.loaders.block.readings import is_struck
from inspection.loaders.kept import Kept
from inspection.models import Car, CarValue, Sheet, SheetPart, SheetReading
from inspection.words.quantities import column_name
from inventory.compute.errors import ComputeError
from inventory.compute.gears import diameter_over_tips
from inventory.compute.numbers import format_value, from_millionths
from inventory.compute.stock import PartQuantity
from inventory.loaders.prepared import STAND_IN, Prepared

#: A gauge in one mode since its last check: what shares a number shares its error.
GaugeKey = tuple[int, int | None]
#: The cells that values were worked out from, and what else they hang on.
RestsOn: TypeAlias = tuple[Any, ...]

#: Of how many cars the stored values are kept, and the parts': a night's.
_CARS_KEPT: Final = 150


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
    between_slips: bool = False
    said_by: str = ""
    said_by_id: int | None = None
    said_at: dt.datetime | None = None
    part_tag: str = ""
    is_in_question: bool = False

    @property
    def quantity(self) -> Quantity:
        return QUANTITIES[column_owner(self.column)[0]]

    @property
    def bound(self) -> int:
        """What the number is, as a field of cars says it."""
        if self.went_under is not None:
            return AT_LEAST if self.went_under else AT_MOST
        return BETWEEN if self.between_slips else VALUE

    @property
    def is_only_declared(self) -> bool:
        """
        Whether somebody concerned said it, and nobody read it for the club.

        The first seals do not say who said what a car is, its layout and its front:
        there it was judged as if it were looked at.
        """
        if self.source is not Source.DECLARED:
            return False
        return self.said_by_id is not None or self.quantity.kind is not Kind.DECLARED

    @property
    def label(self) -> str:
        return column_name(self.column)

    @property
    def text(self) -> str:
        """The value as it is shown: a word, yes or no, or a number."""
        quantity = self.quantity
        if quantity.words is not None:
            return list(quantity.words)[round(self.value)].value
        if quantity.kind is Kind.LOOKED_AT:
            return "yes" if self.value else "no"
        return format_value(self.value, decimals=quantity.decimals, unit=quantity.unit)


def parts_on(sheet: Sheet) -> dict[PartPosition, int]:
    """Give the parts that sat on the car when its sheet was begun, by their place."""
    rows = SheetPart.objects.filter(sheet=sheet).values_list("position", "part")
    return {PartPosition(position): part for position, part in rows}


def values_of_sheet(
    sheet: Sheet, readings: Sequence[SheetReading]
) -> dict[str, ColumnValue]:
    """
    Give the value of each column that has one, the nearest source first.

    This sheet's readings, then carried ones, then the fitted parts' estimates,
    then the car's stored geometry, then what is declared.  What the owner, the
    driver or their family said, of the car or of a part, is declared whatever they
    read it with.
    """
    car, concerned = sheet.entry.car, sheet.concerned
    values = nearest(
        {
            Witness.STORED: stored_values(car, concerned, since=sheet.started_at),
            Witness.PARTS: part_values(sheet, concerned),
            Witness.READINGS: values_of_readings(
                readings, own_scatters(sheet, readings)
            ),
        },
        ON_THE_BLOCK,
    )
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
    if read.source not in sources and read.gauge is None:
        return {}
    try:
        true, random, systematic = diameter_over_tips(
            read.value, read.random, read.systematic, round(teeth.value)
        )
    except ComputeError:
        # Somebody said that this is right: it is judged as it was read.
        return {}
    corrected = replace(read, value=true, random=random, systematic=systematic)
    return {read.column: corrected}


def stored_values(
    car: Car, concerned: Collection[int] = (), *, since: dt.datetime | None = None
) -> Mapping[str, ColumnValue]:
    """
    Give the car's stored geometry; what somebody concerned said is declared.

    ``since`` the car was put on the block, a word that they looked at for the club
    stands all the same: they may only where nobody else is there to.  And nothing
    stands there that was read with a gauge which failed its next check.
    """
    fetched = _STORED.fetched(car.pk)
    return _OF_CARS.of(
        (fetched, frozenset(concerned), since),
        lambda: {
            row.column: stored_value(row, concerned, since=since)
            for row in _STORED.made_of(fetched)
            if since is None or not vars(row)["is_doubtful"]
        },
    )


def _stored(car: int) -> "QuerySet[CarValue]":
    values = CarValue.objects.current().filter(car=car)
    rows = with_doubt(values, sheet__entry__car=OuterRef("car"))
    return rows.select_related("gauge_mode__gauge", "by")


_STORED: Final[Prepared[CarValue]] = Prepared(_stored, STAND_IN)
_OF_CARS: Final = Kept[RestsOn, Mapping[str, ColumnValue]](_CARS_KEPT)


def values_of_readings(
    readings: Iterable[SheetReading], own: OwnScatters = MappingProxyType({})
) -> dict[str, ColumnValue]:
    """
    Give each column its latest set: one person, one gauge, repeats averaged.

    ``own`` is what people's repeats scatter by, where the club lets that count.
    """
    by_column: dict[str, list[SheetReading]] = defaultdict(list)
    for reading in readings:
        if not is_struck(reading):
            by_column[reading.column].append(reading)
    return {column: _from_sets(column, rows, own) for column, rows in by_column.items()}


def _from_sets(column: str, rows: list[SheetReading], own: OwnScatters) -> ColumnValue:
    fresh = [row for row in rows if row.carried_from_id is None]
    source = Source.TAKEN if fresh else Source.CARRIED
    # One person, one gauge in one mode since one check, and one way to read it.
    sets: dict[tuple[int, int | None, int | None, str], list[SheetReading]]
    sets = defaultdict(list)
    for row in fresh or rows:
        key = row.by_id, row.gauge_mode_id, row.gauge_check_id, row.kind
        sets[key].append(row)
    latest = max(sets.values(), key=lambda one: one[-1].pk)
    value = _from_set(column, latest, source, own)
    clash = any(sets_clash(column, latest, one, own) for one in sets.values())
    return replace(value, has_conflict=True) if clash else value


def _from_set(
    column: str, rows: list[SheetReading], source: Source, own: OwnScatters
) -> ColumnValue:
    last = rows[-1]
    estimated = estimate_of_set(column, rows, own)
    mode = last.gauge_mode
    return ColumnValue(
        column=column,
        value=estimated.value,
        random=estimated.random,
        systematic=estimated.systematic,
        gauge=(mode.pk, last.gauge_check_id) if mode else None,
        gauge_name=mode.gauge.name if mode else "",
        source=source,
        reading_ids=tuple(row.pk for row in rows),
        went_under=(
            last.answer == "yes" if last.kind == ReadingKind.GO_GAUGE else None
        ),
        between_slips=last.kind == ReadingKind.INTERVAL,
    )


def stored_value(
    row: CarValue, concerned: Collection[int] = (), *, since: dt.datetime | None = None
) -> ColumnValue:
    """Give what one row of a car's stored geometry says, and who said it."""
    quantity = QUANTITIES[column_owner(row.column)[0]]
    is_looked_at = since and row.column in WORDS_OF_CAR and row.taken_at >= since
    is_declared = row.is_declared or (row.by_id in concerned and not is_looked_at)
    mode = row.gauge_mode
    estimated = estimate_of(
        quantity, [from_millionths(row.value)], gauge_on(mode, quantity)
    )
    return ColumnValue(
        column=row.column,
        value=estimated.value,
        random=estimated.random,
        systematic=estimated.systematic,
        gauge=(mode.pk, row.gauge_check_id) if mode else None,
        gauge_name=mode.gauge.name if mode else "",
        source=Source.DECLARED if is_declared else Source.STORED,
        said_by=row.by.name,
        said_by_id=row.by_id,
        said_at=row.taken_at,
    )


def part_values(
    sheet: Sheet, concerned: Collection[int] = ()
) -> Mapping[str, ColumnValue]:
    """Give what the current estimates of a sheet's parts say, in one query."""
    fetched = _PARTS.fetched(sheet.pk)
    return _OF_PARTS.of(
        (fetched, frozenset(concerned)),
        lambda: {
            column: value
            for row in _PARTS.made_of(fetched)
            for column, value in values_of_part(row, concerned).items()
        },
    )


def _parts(sheet: int) -> "QuerySet[SheetPart, Any]":
    with_latest = SheetPart.objects.filter(sheet=sheet).annotate(
        latest=FilteredRelation(
            "part__estimates", condition=Q(part__estimates__superseded_at=None)
        )
    )
    ruled = {"sheet__parts__part": OuterRef("part")}
    return with_doubt(with_latest, "latest__", **ruled).values(
        "position",
        gear_teeth=F("part__gear__teeth"),
        quantity=F("latest__quantity"),
        value=F("latest__value"),
        random=F("latest__random"),
        systematic=F("latest__systematic"),
        mode_id=F("latest__gauge_mode"),
        gauge_name=F("latest__gauge_mode__gauge__name"),
        check_id=F("latest__gauge_check"),
        by_id=F("latest__by"),
        by=F("latest__by__name"),
        at=F("latest__taken_at"),
        tag=F("part__tag"),
        in_doubt=F("is_doubtful"),
        source=F("latest__source"),
        sheet_before=F("sheet__previous__number"),
    )


_PARTS: Final[Prepared[dict[str, Any]]] = Prepared(_parts, STAND_IN)
_OF_PARTS: Final = Kept[RestsOn, Mapping[str, ColumnValue]](_CARS_KEPT)


def values_of_part(
    row: Mapping[str, Any], concerned: Collection[int] = ()
) -> dict[str, ColumnValue]:
    """Give what one estimate of a part, and its teeth, say of the car it sits on."""
    position = PartPosition(row["position"])
    value_by_column: dict[str, ColumnValue] = {}
    if row["gear_teeth"] is not None and position in TEETH_COLUMNS:
        column = TEETH_COLUMNS[position]
        value_by_column[column] = ColumnValue(
            column=column,
            value=float(row["gear_teeth"]),
            source=Source.FITTED_PART,
            part_tag=row.get("tag", ""),
        )
    if row["quantity"] is None:
        return value_by_column
    measured = PART_COLUMNS.get((position, PartQuantity(row["quantity"])))
    if measured is not None:
        value_by_column[measured] = ColumnValue(
            column=measured,
            value=from_millionths(row["value"]),
            random=from_millionths(row["random"]),
            systematic=from_millionths(row["systematic"]),
            gauge=(row["mode_id"], row["check_id"]) if row["mode_id"] else None,
            gauge_name=row["gauge_name"] or "",
            source=(
                Source.DECLARED
                if row.get("by_id") in concerned or _is_to_be_read(row)
                else Source.FITTED_PART
            ),
            said_by=row.get("by") or "",
            said_by_id=row.get("by_id"),
            said_at=row.get("at"),
            part_tag=row.get("tag", ""),
            is_in_question=_is_to_be_read(row),
        )
    return value_by_column


def _is_to_be_read(row: Mapping[str, Any]) -> bool:
    """
    Whether an estimate of a part proves nothing on the block.

    Its gauge failed the next check; or the sheet before this one told it, and of
    that sheet stands what was carried over, nothing else.
    """
    before = row.get("sheet_before")
    told = before is not None and row.get("source") == f"sheet {before}"
    return told or bool(row.get("in_doubt"))
