"""
What a season is summed from: the figures of each night by themselves.

A closed night's are kept, so that twenty years of them are a row each; those of a
night that is under way are counted when they are asked for.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, Self

import numpy as np
from django.db.models import Count, Q, QuerySet

from inspection.compute.history import medians, repeats
from inspection.compute.judging import Outcome
from inspection.compute.night import Decision, PartPosition, ReadingKind
from inspection.compute.quantities import PART_COLUMNS, column_owner
from inspection.compute.rulebooks import Stage
from inspection.models import (
    Finding,
    RaceNight,
    Seal,
    Sheet,
    SheetPart,
    SheetReading,
)
from inventory.compute.numbers import from_millionths
from inventory.compute.stock import PartQuantity

NOT_JUDGED: Final = (Outcome.NOT_APPLICABLE, Outcome.NOT_MEASURED)
_TYRE_COLUMNS: Final[Mapping[str, PartPosition]] = {
    column: position
    for (position, quantity), column in PART_COLUMNS.items()
    if quantity is PartQuantity.TYRE_DIAMETER
}


@dataclass(frozen=True, kw_only=True)
class Period:
    """From one day to another, both of them in it."""

    start: dt.date
    end: dt.date


@dataclass(frozen=True, kw_only=True)
class Sums:
    """
    A night's figures, each a list of rows as JSON keeps them.

    ``cars``: class, cars seen, passed at the first look.  ``rules``: rule, class, first
    looks judged, admitted; then margins, their median and the least, in millionths.
    ``repeats``: quantity, person, sets of two readings or more, degrees of freedom,
    squares in the quantity's unit.  ``tyres``: part, compound, 1 after the race, mean
    diameter in millionths.
    """

    cars: Sequence[tuple[int, int, int]] = ()
    rules: Sequence[tuple[int, int, int, int, int, float, float]] = ()
    repeats: Sequence[tuple[str, int, int, int, float]] = ()
    tyres: Sequence[tuple[int, str, int, float]] = ()

    @classmethod
    def read(cls, kept: Mapping[str, Any]) -> Self:
        return cls(**kept)

    def kept(self) -> dict[str, Any]:
        """Write them as JSON."""
        return asdict(self)


@dataclass(frozen=True, kw_only=True)
class NightFigures:
    """A night with its figures."""

    pk: int
    date: dt.date
    name: str
    sums: Sums


def load_nights(period: Period) -> list[NightFigures]:
    """Load the figures of a period's nights, the oldest first."""
    nights = list(
        RaceNight.objects.filter(date__range=(period.start, period.end))
        .exclude(opened_at=None)
        .order_by("date", "pk")
        .values_list("pk", "date", "name", "sums__figures")
    )
    counted = count_nights([pk for pk, _, _, kept in nights if kept is None])
    return [
        NightFigures(
            pk=pk,
            date=date,
            name=name,
            sums=counted[pk] if kept is None else Sums.read(kept),
        )
        for pk, date, name, kept in nights
    ]


def nights_to_keep(most: int) -> list[int]:
    """Name closed nights whose figures are not kept yet, the last ones first."""
    closed = RaceNight.objects.exclude(closed_at=None).filter(sums=None)
    return list(closed.order_by("-date", "-pk").values_list("pk", flat=True)[:most])


def count_nights(nights: Sequence[int]) -> dict[int, Sums]:
    """Count the figures of nights from their sheets."""
    if not nights:
        return {}
    sheets = Sheet.objects.counting().filter(entry__night__in=nights)
    first = sheets.filter(previous=None, stage=Stage.BEFORE)
    cars, rules = _cars(first), _rules(first)
    repeats, tyres = _readings(sheets)
    return {
        night: Sums(
            cars=cars[night],
            rules=rules[night],
            repeats=repeats[night],
            tyres=tyres[night],
        )
        for night in nights
    }


def _cars(first: QuerySet[Sheet]) -> dict[int, list[tuple[int, int, int]]]:
    rows = (
        Seal.objects.filter(sheet__in=first.values("pk"))
        .order_by()
        .values_list("night", "sheet__entry__race_class")
        .annotate(
            judged=Count("pk"), passed=Count("pk", filter=Q(decision=Decision.PASSED))
        )
    )
    cars_by_night = defaultdict(list)
    for night, race_class, judged, passed in rows:
        cars_by_night[night].append((race_class, judged, passed))
    return cars_by_night


def _rules(
    first: QuerySet[Sheet],
) -> dict[int, list[tuple[int, int, int, int, int, float, float]]]:
    rows = Finding.objects.filter(sheet__in=first.values("pk")).order_by("pk")
    cells: dict[tuple[int, int, int], _Cell] = defaultdict(_Cell)
    for night, rule, race_class, outcome, is_admitted, margin in rows.values_list(
        "sheet__entry__night",
        "rule",
        "sheet__entry__race_class",
        "outcome",
        "is_admitted",
        "margin",
    ):
        cells[night, rule, race_class].add(outcome, margin, is_admitted=is_admitted)
    margins = [one.margins for one in cells.values()]
    sizes = [len(some) for some in margins]
    middles = medians(
        np.array([one for some in margins for one in some], dtype=np.float64),
        np.repeat(np.arange(len(sizes)), sizes),
        groups=len(sizes),
    )
    by_night = defaultdict(list)
    for at, ((night, rule, race_class), cell) in enumerate(cells.items()):
        by_night[night].append(
            (
                rule,
                race_class,
                cell.judged,
                cell.admitted,
                sizes[at],
                float(np.nan_to_num(middles.median[at])),
                float(np.nan_to_num(middles.least[at])),
            )
        )
    return by_night


class _Cell:
    """What a rule found of the cars of one class on one night."""

    def __init__(self) -> None:
        self.judged = self.admitted = 0
        self.margins: list[int] = []

    def add(self, outcome: str, margin: int | None, *, is_admitted: bool) -> None:
        if outcome not in NOT_JUDGED:
            self.judged += 1
            self.admitted += is_admitted
        if margin is not None:
            self.margins.append(margin)


def _readings(
    sheets: QuerySet[Sheet],
) -> tuple[
    dict[int, list[tuple[str, int, int, int, float]]],
    dict[int, list[tuple[int, str, int, float]]],
]:
    """Count repeats and tyres from the values that count and were taken here."""
    rows = list(
        SheetReading.objects.filter(
            sheet__in=sheets.values("pk"),
            kind=ReadingKind.VALUE,
            carried_from=None,
            strike=None,
        )
        .order_by("pk")
        .values_list(
            "sheet__entry__night",
            "sheet",
            "sheet__stage",
            "column",
            "by",
            "gauge_mode__gauge",
            "value",
        )
    )
    return _repeats(rows), _tyres(rows, sheets)


def _repeats(
    rows: Iterable[tuple[Any, ...]],
) -> dict[int, list[tuple[str, int, int, int, float]]]:
    sets: dict[tuple[Any, ...], list[float]] = defaultdict(list)
    for night, sheet, _, column, by, gauge, value in rows:
        sets[night, sheet, column, by, gauge].append(from_millionths(value or 0))
    cells: dict[tuple[int, str, int], list[list[float]]] = defaultdict(list)
    for (night, _, column, by, _), values in sets.items():
        cells[night, column_owner(column)[0], by].append(values)
    repeats_by_night = defaultdict(list)
    for (night, key, by), some in cells.items():
        scatter = repeats(some)
        row = (key, by, scatter.sets, scatter.degrees_of_freedom, scatter.squares)
        repeats_by_night[night].append(row)
    return repeats_by_night


def _tyres(
    rows: Iterable[tuple[Any, ...]], sheets: QuerySet[Sheet]
) -> dict[int, list[tuple[int, str, int, float]]]:
    parts = {
        (sheet, position): (part, compound or "")
        for sheet, position, part, compound in SheetPart.objects.filter(
            sheet__in=sheets.values("pk"), position__in=_TYRE_COLUMNS.values()
        ).values_list("sheet", "position", "part", "part__tyre__compound")
    }
    sizes: dict[tuple[int, int, str, int], list[int]] = defaultdict(list)
    for night, sheet, stage, column, _, _, value in rows:
        place = _TYRE_COLUMNS.get(column)
        tyre = parts.get((sheet, place)) if place else None
        if tyre is not None and value is not None:
            sizes[night, *tyre, int(stage == Stage.AFTER)].append(value)
    tyres_by_night = defaultdict(list)
    for (night, part, compound, after), some in sizes.items():
        tyres_by_night[night].append((part, compound, after, sum(some) / len(some)))
    return tyres_by_night
