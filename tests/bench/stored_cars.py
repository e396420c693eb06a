"""
Thousands of sealed sheets by the plain rows, for benchmarks of what reads them.

Sealing one by one takes too long for ten thousand; what is written here is what
sealing writes, save for the readings.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterator

import numpy as np
from django.utils import timezone

from inspection.compute.judging.evaluation import Field
from inspection.compute.night.entries import Decision, EntryState
from inspection.compute.quantities.quantity import FrontCarrier, Layout
from inspection.compute.rulebooks.requirements import Stage
from inspection.loaders.block.seals import pack_inputs
from inspection.models import (
    Car,
    Edition,
    Entry,
    RaceClass,
    RaceNight,
    Seal,
    SealContent,
    SealInputs,
    Sheet,
)
from inventory.models import Person
from tests.bench.bench_rules import field_of

CARS_A_NIGHT = 80
#: The text of a sheet's seal in the demo club is 16 to 19 KB.
SEALED_BYTES = 18_000
_CHUNK = 500
WEIGHT, BODY = 98.0, 17.5


def seed_cars(count: int, *, edition: Edition, race_class: RaceClass) -> Field:
    """Write so many cars with a sealed sheet each, every fifth with an older one."""
    field = with_weights(field_of(count, gauges="usual"))
    first = Car.objects.count()
    owner = Person.objects.get(pk=edition.created_by_id)
    cars = Car.objects.bulk_create(
        (
            Car(
                tag=f"seeded{first + at}",
                number=f"{first + at:05d}",
                name=f"Car {first + at}",
                owner=owner,
                race_class=race_class,
                layout=Layout.IN_LINE,
                front_carrier=_carrier(field, at),
                changed_at=timezone.now(),
            )
            for at in range(count)
        ),
        batch_size=_CHUNK,
    )
    for round_ in (0, 1):
        chosen = cars if round_ else cars[::5]
        rows = range(0, count, 1 if round_ else 5)
        for start in range(0, len(chosen), _CHUNK):
            some = slice(start, start + _CHUNK)
            _seal(chosen[some], rows[some], field, edition, round_=round_)
    return field


def with_weights(field: Field) -> Field:
    """Add what bench_rules has no need of: weights that limits can part."""
    rng = np.random.default_rng(7)
    value = field.value.copy()
    value[:, field.columns.index("weight_car")] = rng.normal(98, 3, field.car_count)
    return Field(
        columns=field.columns,
        value=np.round(value, 6),
        random=np.round(field.random, 6),
        systematic=np.round(field.systematic, 6),
        gauge=field.gauge,
    )


def _carrier(field: Field, at: int) -> FrontCarrier:
    code = field.value[at, field.columns.index("front_carrier")]
    return tuple(FrontCarrier)[int(code)]


def _seal(
    cars: list[Car], rows: range, field: Field, edition: Edition, *, round_: int
) -> None:
    """Write entries, sheets, seals and their inputs of some cars."""
    base = timezone.now() - dt.timedelta(days=300 - 100 * round_)
    night = RaceNight.objects.create(
        name=f"Round {round_}, {cars[0].number}", date=base.date(), opened_at=base
    )
    entries = Entry.objects.bulk_create(
        Entry(
            night=night,
            car=car,
            race_class_id=car.race_class_id,
            driver_id=car.owner_id,
            number=car.number,
            state=EntryState.PASSED,
            state_since=base,
        )
        for car in cars
    )
    sheets = Sheet.objects.bulk_create(
        Sheet(
            number=f"{entry.car.number}-{round_}",
            entry=entry,
            edition=edition,
            stage=Stage.BEFORE,
            started_at=base,
            started_by_id=edition.created_by_id,
        )
        for entry in entries
    )
    seals = Seal.objects.bulk_create(
        Seal(
            sheet=sheet,
            night=night,
            sequence=at + 1,
            decision=Decision.PASSED,
            sha256=hashlib.sha256(sheet.number.encode()).hexdigest(),
            sealed_at=base + dt.timedelta(seconds=at),
            sealed_by_id=edition.created_by_id,
        )
        for at, sheet in enumerate(sheets)
    )
    SealContent.objects.bulk_create(
        SealContent.of(seal, _content(seal.sheet.number)) for seal in seals
    )
    SealInputs.objects.bulk_create(_inputs(seals, rows, field))


def _content(number: str) -> str:
    return json.dumps({"number": number, "padding": "x" * SEALED_BYTES})


def _inputs(seals: list[Seal], rows: range, field: Field) -> Iterator[SealInputs]:
    for seal, row in zip(seals, rows, strict=True):
        columns, numbers = pack_inputs(field.take(np.array([row])))
        yield SealInputs(seal=seal, columns=columns, numbers=numbers)
