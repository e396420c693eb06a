"""What each person's repeats with each gauge scatter by, from what the club read."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from django.db.models import QuerySet

from inspection.compute.night import ReadingKind
from inspection.compute.quantities import PART_COLUMNS, QUANTITIES, column_owner
from inspection.models import Sheet, SheetReading
from inspection.words.quantities import quantity_name
from inventory.compute.measuring import (
    OwnScatter,
    own_scatter,
    own_scatter_of_tyre,
)
from inventory.compute.numbers import from_millionths
from inventory.compute.stock import PartQuantity
from inventory.models import Gauge, PartReading, Person

#: A person, a gauge and a quantity's key.
ScatterKey: TypeAlias = tuple[int, int, str]
#: So many readings are looked at, the last ones, on the block and in the drawers.
MOST_READINGS: Final = 2_000
_TYRE_KEYS: Final = tuple(
    dict.fromkeys(
        column_owner(column)[0]
        for (_, size), column in PART_COLUMNS.items()
        if size is PartQuantity.TYRE_DIAMETER
    )
)


@dataclass(frozen=True, kw_only=True)
class ScatterLine:
    """A line of a gauge's page: whose repeats of what scatter how, and what counts."""

    person: Person
    label: str
    unit: str
    own: OwnScatter
    usual: float

    @property
    def shown(self) -> float:
        """What the repeats alone show, in the quantity's unit."""
        return math.sqrt(self.own.squares / self.own.repeats)

    @property
    def counts_as(self) -> float:
        return self.own.counts_as(self.usual)


def own_scatters(
    sheet: Sheet, readings: Iterable[SheetReading]
) -> dict[ScatterKey, OwnScatter]:
    """
    Give what a sheet's u may rest on; empty unless the club has published that.

    Of readings from before the sheet was begun, so that none of its own changes what
    another of it is worth.  In two queries, none without the club's word.
    """
    since: dt.datetime | None = vars(sheet).get("own_since")
    if since is None or sheet.started_at < since:
        return {}
    pairs = {
        (one.by_id, one.gauge_mode.gauge_id)
        for one in readings
        if one.gauge_mode is not None and one.kind == ReadingKind.VALUE
    }
    if not pairs:
        return {}
    people, gauges = ({pair[at] for pair in pairs} for at in (0, 1))
    return _pooled(gauges, people=people, before=sheet.started_at)


def scatter_lines(gauge: Gauge) -> list[ScatterLine]:
    """Give a gauge's lines, people by name."""
    modes = gauge.modes.filter(replaced_at=None)
    by_mode: dict[str, int] = dict(modes.values_list("mode", "repeatability"))
    pooled = _pooled({gauge.pk})
    people = Person.objects.in_bulk({person for person, _, _ in pooled})
    lines = [
        ScatterLine(
            person=people[person],
            label=quantity_name(key),
            unit=QUANTITIES[key].unit,
            own=own,
            usual=max(
                from_millionths(by_mode.get(str(QUANTITIES[key].mode), 0)),
                QUANTITIES[key].repeatability,
            ),
        )
        for (person, _, key), own in pooled.items()
    ]
    return sorted(lines, key=lambda one: (one.person.name, one.person.pk, one.label))


def _pooled(
    gauges: Collection[int],
    *,
    people: Collection[int] | None = None,
    before: dt.datetime | None = None,
) -> dict[ScatterKey, OwnScatter]:
    total: dict[ScatterKey, OwnScatter] = defaultdict(OwnScatter)
    for (_, _, person, gauge, _, key), values in _on_the_block(
        gauges, people, before
    ).items():
        total[person, gauge, key] += own_scatter(
            [values], is_round=QUANTITIES[key].is_round
        )
    for (_, person, gauge), sections in _in_the_drawers(gauges, people, before).items():
        own = own_scatter_of_tyre(list(sections.values()))
        for key in _TYRE_KEYS:
            total[person, gauge, key] += own
    return {key: own for key, own in total.items() if own.repeats}


def _on_the_block(
    gauges: Collection[int],
    people: Collection[int] | None,
    before: dt.datetime | None,
) -> dict[tuple[Any, ...], list[float]]:
    """Lay out repeats: one person, one gauge since one check, one thing of one car."""
    rows = SheetReading.objects.filter(
        gauge_mode__gauge__in=gauges,
        kind=ReadingKind.VALUE,
        carried_from=None,
        strike=None,
        sheet__void=None,
    ).order_by("-taken_at", "-pk")
    rows = _narrowed(rows, "by", "taken_at", people, before)
    sets: dict[tuple[Any, ...], list[float]] = defaultdict(list)
    values = rows.values_list(
        "sheet", "column", "by", "gauge_mode__gauge", "gauge_check", "value"
    )
    # Form needs them in the order in which they were taken.
    for sheet, column, by, gauge, check, value in reversed(values[:MOST_READINGS]):
        key = column_owner(column)[0]
        sets[sheet, column, by, gauge, check, key].append(from_millionths(value or 0))
    return sets


def _in_the_drawers(
    gauges: Collection[int],
    people: Collection[int] | None,
    before: dt.datetime | None,
) -> dict[tuple[int, int, int], dict[str, list[float]]]:
    """Lay out tyres read off the car, by section; of a set made anew the new one."""
    rows = PartReading.objects.filter(
        estimate__gauge_mode__gauge__in=gauges,
        estimate__quantity=PartQuantity.TYRE_DIAMETER,
        estimate__restated=None,
        strike=None,
    ).exclude(estimate__source__startswith="sheet ")
    rows = _narrowed(rows, "estimate__by", "estimate__taken_at", people, before)
    values = rows.order_by("-estimate__taken_at", "-pk").values_list(
        "estimate", "estimate__by", "estimate__gauge_mode__gauge", "section", "value"
    )
    tyres: dict[tuple[int, int, int], dict[str, list[float]]] = defaultdict(dict)
    for estimate, by, gauge, section, value in reversed(values[:MOST_READINGS]):
        one = tyres[estimate, by, gauge].setdefault(section, [])
        one.append(from_millionths(value))
    return tyres


def _narrowed(
    rows: "QuerySet[Any]",
    by: str,
    at: str,
    people: Collection[int] | None,
    before: dt.datetime | None,
) -> "QuerySet[Any]":
    if people is not None:
        rows = rows.filter(**{f"{by}__in": people})
    return rows if before is None else rows.filter(**{f"{at}__lt": before})
