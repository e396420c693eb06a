"""What the rules would say of cars as they are: nothing is written of it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from inspection.compute.asking import readings_to_take
from inspection.compute.judging import Outcome
from inspection.compute.quantities import WORDS_OF_CAR, Kind, Source
from inspection.compute.rulebooks import Stage
from inspection.loaders.block.fields import field_of
from inspection.loaders.block.findings import (
    RuleFinding,
    findings_of,
    findings_of_field,
)
from inspection.loaders.block.sheets import quantity_of
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.cars.search import by_class_and_number
from inspection.loaders.fit.cars import CarNow, beside, load_cars
from inspection.loaders.rulebooks.editions import load_edition
from inspection.models import Car, NightClass, RaceNight


@dataclass(frozen=True, kw_only=True)
class DryCar:
    """One car, and what a night's rules would say of what is known of it."""

    car: Car
    is_entered: bool
    broken: tuple[RuleFinding, ...]
    unknown: tuple[RuleFinding, ...]

    @property
    def is_well(self) -> bool:
        return not self.broken and not self.unknown


def columns_to_type(car: CarNow) -> tuple[str, ...]:
    """Give what the car's rules rest on, in the order of the hands."""
    asked = readings_to_take(
        [rule.quantity.key for rule in car.rules],
        front_carrier=car.car.front_carrier,
    )
    columns = [*asked.declared, *asked.tonight, *asked.stored]
    return tuple(one for one in columns if one not in WORDS_OF_CAR)


def practise(car: CarNow, typed: Mapping[str, float]) -> tuple[RuleFinding, ...]:
    """Judge a car by what is known of it, with what was typed in its place."""
    if car.edition is None:
        return ()
    values = dict(car.values) | {
        column: ColumnValue(column=column, value=value, source=Source.TAKEN)
        for column, value in typed.items()
    }
    return findings_of(car.edition, car.rules, field_of(values), Stage.BEFORE)


def takes_words(column: str) -> bool:
    """Whether a column is looked at, or said in a word, and not measured."""
    quantity = quantity_of(column)
    return quantity.words is not None or quantity.kind is Kind.LOOKED_AT


def dry_run(night: RaceNight, classes: Iterable[NightClass]) -> list[DryCar]:
    """
    Judge all cars of a night's classes by the editions that they race by.

    Cars under the same rules are judged together.
    """
    editions = {one.race_class_id: load_edition(one.edition) for one in classes}
    cars = [
        replace(car, edition=editions[car.car.race_class_id])
        for car in load_cars(by_class_and_number(night))
    ]
    alike: dict[tuple[int, str, str], list[CarNow]] = defaultdict(list)
    for car in cars:
        own = car.car
        alike[own.race_class_id, own.layout, own.front_carrier].append(car)
    findings_by_car: dict[int, tuple[RuleFinding, ...]] = {}
    for some in alike.values():
        first = some[0]
        if first.edition is not None:
            field = beside(*(car.field for car in some))
            findings = findings_of_field(
                first.edition, first.rules, field, Stage.BEFORE
            )
            findings_by_car |= {
                one.car.pk: row for one, row in zip(some, findings, strict=True)
            }
    return [_dry(car.car, findings_by_car[car.car.pk]) for car in cars]


def _dry(car: Car, findings: Iterable[RuleFinding]) -> DryCar:
    held = [one for one in findings if one.keeps_from_passing]
    return DryCar(
        car=car,
        is_entered=vars(car)["is_entered"],
        broken=tuple(one for one in held if one.outcome is not Outcome.NOT_MEASURED),
        unknown=tuple(one for one in held if one.outcome is Outcome.NOT_MEASURED),
    )
