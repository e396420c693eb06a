"""Tyres of one compound on all cars, night by night: what a car's own may borrow."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from typing import Final

import numpy as np

from inspection.compute.history import RacedTyre
from inspection.compute.night import PartPosition, ReadingKind
from inspection.compute.rulebooks import Stage
from inspection.models import Car, SheetPart, SheetReading
from inventory.compute.numbers import from_millionths
from inventory.models import Part

#: Tyres from longer ago are of another batch, and another track.
DAYS_BACK: Final = 400
#: More than these tell nothing more, and a page waits for them.
MOST_TYRES: Final = 60

REAR_TYRES: Final = {
    "tyre_diameter_rear_left": PartPosition.REAR_LEFT,
    "tyre_diameter_rear_right": PartPosition.REAR_RIGHT,
}


def tyres_of_compound(
    parts: Iterable[int], *, but_of: Car, before: dt.datetime
) -> list[RacedTyre]:
    """
    Follow tyres of the same compound on other cars; in three queries.

    None where the compound of the parts is not said, or not the same.
    """
    compounds = set(
        Part.objects.filter(pk__in=list(parts)).values_list("tyre__compound", flat=True)
    )
    if len(compounds) != 1 or not (compound := next(iter(compounds))):
        return []
    recent = (before - dt.timedelta(days=DAYS_BACK), before)
    rows = SheetPart.objects.filter(
        part__tyre__compound__iexact=compound,
        position__in=REAR_TYRES.values(),
        sheet__seal__sealed_at__range=recent,
    ).exclude(sheet__entry__car=but_of)
    worn = {
        (sheet, position): (part, car)
        for sheet, position, part, car in rows.values_list(
            "sheet", "position", "part", "sheet__entry__car"
        )
    }
    return _raced(worn)


def _raced(worn: dict[tuple[int, PartPosition], tuple[int, int]]) -> list[RacedTyre]:
    readings_by_tyre: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
    nights: dict[tuple[int, int], dict[int, int]] = defaultdict(dict)
    readings = SheetReading.objects.filter(
        sheet__in={sheet for sheet, _ in worn},
        column__in=REAR_TYRES,
        kind=ReadingKind.VALUE,
        carried_from=None,
        strike=None,
    ).order_by("sheet__entry__night__date", "sheet__entry__night_id", "pk")
    for sheet, column, night, stage, value in readings.values_list(
        "sheet", "column", "sheet__entry__night", "sheet__stage", "value"
    ):
        tyre = worn.get((sheet, REAR_TYRES[column]))
        if tyre is None or value is None:
            continue
        raced = nights[tyre].setdefault(night, len(nights[tyre]))
        # After the race, the night is behind the tyre.
        readings_by_tyre[tyre].append(
            (raced + (stage == Stage.AFTER), from_millionths(value))
        )
    told = [
        (car, rows)
        for (_, car), rows in readings_by_tyre.items()
        if len({n for n, _ in rows}) > 1
    ]
    return [
        RacedTyre(
            car=car,
            nights=np.array([night for night, _ in rows], dtype=np.float64),
            diameter_mm=np.array([size for _, size in rows], dtype=np.float64),
        )
        for car, rows in told[-MOST_TYRES:]
    ]
