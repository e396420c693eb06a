"""Every car's last sealed sheet, as the one field that a trial judges."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import F, QuerySet, Window
from django.db.models.functions import RowNumber

from inspection.compute.night import Decision
from inspection.compute.quantities import COLUMNS
from inspection.compute.rulebooks import Stage
from inspection.compute.stance import Field
from inspection.models import Seal, SealInputs
from inventory.compute.numbers import MILLION

_PLACES = {column: place for place, column in enumerate(COLUMNS)}
#: What SealInputs packs of each column.
_PARTS = 5


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Whose sheets are tried: a rulebook's cars, and which of them."""

    rulebook_id: int
    stage: Stage = Stage.BEFORE
    since: dt.date | None = None
    class_id: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class StoredCar:
    """A car and the sheet that was the last one sealed of it."""

    number: str
    name: str
    class_id: int
    class_name: str
    sheet: str
    decision: Decision


@dataclass(frozen=True, kw_only=True, eq=False)
class StoredCars:
    """The cars and what their sheets say, in one order."""

    cars: tuple[StoredCar, ...]
    field: Field


def load_stored_cars(choice: Choice) -> StoredCars:
    """Load the last sealed sheet of each car, in one query."""
    rows = list(
        SealInputs.objects.filter(seal__in=_last_seals(choice))
        .order_by("seal__sheet__entry__number")
        .values_list(
            "seal__sheet__entry__number",
            "seal__sheet__entry__car__name",
            "seal__sheet__entry__race_class",
            "seal__sheet__entry__race_class__name",
            "seal__sheet__number",
            "seal__decision",
            "columns",
            "numbers",
        )
    )
    return StoredCars(
        cars=tuple(
            StoredCar(
                number=number,
                name=name,
                class_id=class_id,
                class_name=class_name,
                sheet=sheet,
                decision=Decision(decision),
            )
            for number, name, class_id, class_name, sheet, decision, _, _ in rows
        ),
        field=unpack_inputs((row[-2], bytes(row[-1])) for row in rows),
    )


def _last_seals(choice: Choice) -> QuerySet[Any, Any]:
    seals = Seal.objects.filter(
        sheet__stage=choice.stage,
        sheet__entry__race_class__rulebook=choice.rulebook_id,
    )
    if choice.since is not None:
        seals = seals.filter(night__date__gte=choice.since)
    if choice.class_id is not None:
        seals = seals.filter(sheet__entry__race_class=choice.class_id)
    return (
        seals.annotate(
            place=Window(
                RowNumber(),
                partition_by=F("sheet__entry__car"),
                # Keys rise in the order of sealing; the hour stands behind a text
                # of 18 KB, which SQLite would read for it.
                order_by=F("pk").desc(),
            )
        )
        .filter(place=1)
        .order_by()
        .values("pk")
    )


def unpack_inputs(rows: Iterable[tuple[str, bytes]]) -> Field:
    """
    Read packed sheets into a field, a row each.

    The same numbers, to the digit, as ``field_of`` makes of one sheet's values.
    """
    alike: dict[str, list[tuple[int, bytes]]] = defaultdict(list)
    count = 0
    for columns, numbers in rows:
        alike[columns].append((count, numbers))
        count += 1
    shape = (count, len(COLUMNS))
    value, random, systematic = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape)
    gauge, bound = np.full(shape, -1, dtype=np.int64), np.zeros(shape, dtype=np.int8)
    for columns, packed in alike.items():
        names = columns.split()
        kept = [place for place, name in enumerate(names) if name in _PLACES]
        whole = np.frombuffer(b"".join(one for _, one in packed), dtype="<i8")
        figures = whole.reshape(len(packed), len(names), _PARTS)[:, kept]
        cars = np.array([car for car, _ in packed])[:, None]
        at = cars, np.array([_PLACES[names[place]] for place in kept], dtype=np.intp)
        value[at] = figures[..., 0] / MILLION
        random[at] = figures[..., 1] / MILLION
        systematic[at] = figures[..., 2] / MILLION
        gauge[at] = figures[..., 3]
        bound[at] = figures[..., 4]
    return Field(
        columns=COLUMNS,
        value=value,
        random=random,
        systematic=systematic,
        gauge=gauge,
        bound=bound,
    )
