"""Entries with all their sheets, played by the actions, to be copied."""

import datetime as dt
import random
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import models, transaction

from deploy.demo.block import inspect
from deploy.demo.club import Founded
from deploy.demo.garage import REAR_LEFT, REAR_RIGHT
from deploy.demo.nights import Night, Trouble
from inspection.compute.asking import Area
from inspection.compute.night import EntryState
from inspection.loaders.block.sheets import quantity_of
from inspection.models import Entry, Sheet
from inventory.models import PartEstimate
from tests.bench.years.sizes import Sizes

#: What a row says, by the names of its columns.
Row = dict[str, Any]

LIGHT = Trouble(
    found={"weight_car": "60.4"},
    mended={"weight_car": "98.2"},
    areas=(Area.CHASSIS,),
)
UNSEALED = Trouble(
    found={"motor_sealed": "no"}, mended={"motor_sealed": "yes"}, areas=(Area.MOTOR,)
)
#: What is read at three places before the race.
READ_THRICE = (
    REAR_LEFT,
    REAR_RIGHT,
    "tyre_diameter_front_left",
    "tyre_diameter_front_right",
    "width_rear",
    "width_front",
    "weight_car",
)
#: So much a size differs from what it was on another night, in steps of its gauge.
_STEPS = 4


@dataclass(frozen=True, kw_only=True)
class SheetTemplate:
    """One sealed sheet."""

    sheet: Row
    previous: int | None
    readings: Sequence[Row]
    parts: Sequence[Row]
    findings: Sequence[Row]
    strikes: Sequence[Row]
    seal: Row
    content: str
    inputs: Row
    learned: Sequence[tuple[Row, Sequence[Row]]]


@dataclass(frozen=True, kw_only=True)
class EntryTemplate:
    """A car's evening: where it stood, and the sheets that were made of it."""

    car_number: str
    entry: Row
    moves: Sequence[Row]
    sheets: Sequence[SheetTemplate]

    @property
    def begun(self) -> dt.datetime:
        at: dt.datetime = self.sheets[0].sheet["started_at"]
        return at


#: By the number of the car: its evenings, in the order of its tyres' wear.
Templates = Mapping[str, Sequence[EntryTemplate]]


def play_templates(
    founded: Founded, sizes: Sizes, *, opens_at: dt.datetime
) -> Templates:
    """Hold nights with every car of the demo, read them, and take them back."""
    truths = {number: dict(one.truth) for number, one in founded.crew.garage.items()}
    found: dict[str, list[EntryTemplate]] = defaultdict(list)
    # Each round of tyres is a new one, which nobody fits in the books.
    founded.crew.bench.is_sure = True
    with transaction.atomic():
        for place in range(sizes.template_nights):
            night = Night(
                founded.crew,
                founded.edition,
                name=f"Played night {place + 1}",
                opens_at=opens_at + dt.timedelta(days=7 * place),
            )
            _hold(night, founded, place=place, worn=place % sizes.tyre_cycle)
            for one in _read(night):
                found[one.car_number].append(one)
            for number, car in founded.crew.garage.items():
                car.truth.clear()
                car.truth.update(truths[number])
        transaction.set_rollback(True)
    return found


def _hold(night: Night, founded: Founded, *, place: int, worn: int) -> None:
    rng = random.Random(place)
    garage = founded.crew.garage
    for car in garage.values():
        for _ in range(worn):
            car.wear()
        _vary(car.truth, rng, founded)
    night.begin(list(garage))
    for at, number in enumerate(garage):
        trouble = (LIGHT, UNSEALED)[at % 2] if (at + place) % 5 == 0 else None
        if trouble is None:
            inspect(night.turn(number), repeats=READ_THRICE)
        else:
            night.send_back(number, trouble)
            night.see_again(number, trouble)
    night.clock.tick(minutes=70)
    for at, number in enumerate(garage):
        entry = Entry.objects.get(pk=night.entries[number].pk)
        garage[number].wear()
        if (at + place) % 6 == 1 and entry.state == EntryState.PASSED:
            inspect(night.turn(number))
    night.close()


def _vary(truth: dict[str, str], rng: random.Random, founded: Founded) -> None:
    """Let sizes be a little otherwise than on the last night; tyres wear anyway."""
    for column, text in truth.items():
        quantity = quantity_of(column)
        if column in {REAR_LEFT, REAR_RIGHT} or not quantity.gauges:
            continue
        if text in {"yes", "no"} or column.startswith("teeth"):
            continue
        step = Decimal(founded.crew.bench.mode_for(quantity).resolution).scaleb(-6)
        if step:
            moved = Decimal(text) + rng.randint(-_STEPS, _STEPS) * step.normalize()
            truth[column] = str(moved)


def _read(night: Night) -> list[EntryTemplate]:
    entries = (
        Entry.objects.filter(night=night.race_night)
        .select_related("car")
        .prefetch_related("moves")
    )
    sheets = (
        Sheet.objects.filter(entry__night=night.race_night)
        .order_by("pk")
        .select_related("seal__inputs")
        .prefetch_related("readings__strike", "parts", "findings")
    )
    learned = defaultdict(list)
    for estimate in (
        PartEstimate.objects.filter(source__startswith="sheet ")
        .filter(source__in=[f"sheet {sheet.number}" for sheet in sheets])
        .prefetch_related("readings")
    ):
        number = estimate.source.removeprefix("sheet ")
        learned[number].append(
            (row_of(estimate), [row_of(one) for one in estimate.readings.all()])
        )
    of_entry: dict[int, list[Sheet]] = defaultdict(list)
    for sheet in sheets:
        of_entry[sheet.entry_id].append(sheet)
    return [
        EntryTemplate(
            car_number=entry.car.number,
            entry=row_of(entry),
            moves=[row_of(move) for move in entry.moves.order_by("pk")],
            sheets=[
                _sheet(sheet, of_entry[entry.pk], learned[sheet.number])
                for sheet in of_entry[entry.pk]
            ],
        )
        for entry in entries
        if of_entry[entry.pk]
    ]


def _sheet(
    sheet: Sheet,
    of_entry: Sequence[Sheet],
    learned: Sequence[tuple[Row, Sequence[Row]]],
) -> SheetTemplate:
    before = [one.pk for one in of_entry]
    readings = list(sheet.readings.all())
    return SheetTemplate(
        sheet=row_of(sheet),
        previous=before.index(sheet.previous_id) if sheet.previous_id else None,
        readings=[row_of(one) for one in readings],
        parts=[row_of(one) for one in sheet.parts.all()],
        findings=[row_of(one) for one in sheet.findings.all()],
        strikes=[row_of(one.strike) for one in readings if hasattr(one, "strike")],
        seal=row_of(sheet.seal),
        content=sheet.seal.content,
        inputs=row_of(sheet.seal.inputs),
        learned=learned,
    )


def row_of(instance: models.Model) -> Row:
    """Give a row's columns, its key among them."""
    return {
        field.attname: getattr(instance, field.attname)
        for field in instance._meta.concrete_fields
    }
