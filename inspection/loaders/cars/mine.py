"""A person's own cars at one look: legal or not in each class, wear, what is kept."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from django.db.models import OuterRef, Subquery

from inspection.compute.judging import Outcome
from inspection.compute.rulebooks import Stage
from inspection.loaders.block.findings import RuleFinding, findings_of
from inspection.loaders.fit.cars import CarNow, load_in_order
from inspection.loaders.fit.parts import (
    gauges_of_parts,
    gears_of,
    load_columns,
    motors_of,
    pinions_of,
)
from inspection.loaders.fit.stock import PartTable, Rows, set_against
from inspection.loaders.fit.tyre_pairs import load_pairs
from inspection.loaders.history.wear import TyreWear, wear_now
from inspection.loaders.rulebooks.editions import LoadedEdition, load_edition
from inspection.models import Car, Edition, RaceClass
from inventory.compute.stock import GearRole, PartKind, PartState
from inventory.loaders.parts import FACT_TABLES
from inventory.models import Part, Person

#: Roles of gears that a car has on its axle.
_ON_AXLE: Final = (GearRole.SPUR, GearRole.CROWN)


@dataclass(frozen=True, kw_only=True)
class ClassNow:
    """What the rules of a class say of what is known of a car."""

    race_class: RaceClass
    edition: LoadedEdition
    broken: tuple[RuleFinding, ...]
    unknown: tuple[RuleFinding, ...]

    @property
    def mark(self) -> str:
        """The mark that is drawn beside it."""
        if self.broken:
            return "fail"
        return "not measured" if self.unknown else "pass"


@dataclass(frozen=True, kw_only=True)
class MyCarNow:
    """One car of somebody's, with what they ask of it between the nights."""

    now: CarNow
    classes: tuple[ClassNow, ...]
    wear: TyreWear | None
    kept: tuple[Part, ...]

    @property
    def car(self) -> Car:
        return self.now.car

    @property
    def own(self) -> ClassNow | None:
        """Its own class, where that has rules."""
        return next(
            (
                one
                for one in self.classes
                if one.race_class.pk == self.car.race_class_id
            ),
            None,
        )

    @property
    def others(self) -> list[ClassNow]:
        """The other classes that it could be entered in."""
        return [one for one in self.classes if one is not self.own]


def load_my_cars(cars: Sequence[Car], person: Person) -> list[MyCarNow]:
    """
    Judge cars by the rules of every class, and tell what is kept for them.

    As many queries for one car as for several.
    """
    cars_now = load_in_order(cars)
    classes = _classes()
    kept = _kept(person)
    fitting = [{pk for some in kept for pk in _fitting(car, *some)} for car in cars_now]
    parts = Part.objects.select_related(*FACT_TABLES).in_bulk(set().union(*fitting))
    return [
        MyCarNow(
            now=car,
            classes=tuple(_judged(car, *one) for one in classes),
            wear=wear_now(car),
            kept=tuple(parts[pk] for pk in sorted(keys)),
        )
        for car, keys in zip(cars_now, fitting, strict=True)
    ]


def _classes() -> list[tuple[RaceClass, LoadedEdition]]:
    """Give the classes that have rules, each with the edition published last."""
    last = Edition.objects.published().filter(rulebook=OuterRef("rulebook"))
    named = list(
        RaceClass.objects.annotate(
            edition=Subquery(last.order_by("-number").values("pk")[:1])
        )
    )
    keys = {row["edition"] for row in map(vars, named)} - {None}
    editions = Edition.objects.select_related("rulebook").in_bulk(keys)
    loaded = {key: load_edition(edition) for key, edition in editions.items()}
    return [(one, loaded[key]) for one in named if (key := vars(one)["edition"])]


def _judged(car: CarNow, race_class: RaceClass, edition: LoadedEdition) -> ClassNow:
    rules = tuple(
        rule
        for rule in edition.at(Stage.BEFORE)
        if rule.applies_to(
            class_id=race_class.pk,
            layout=car.car.layout,
            carrier=car.car.front_carrier,
        )
    )
    findings = findings_of(edition, rules, car.field, Stage.BEFORE)
    held = [one for one in findings if one.keeps_from_passing]
    return ClassNow(
        race_class=race_class,
        edition=edition,
        broken=tuple(one for one in held if one.outcome is not Outcome.NOT_MEASURED),
        unknown=tuple(one for one in held if one.outcome is Outcome.NOT_MEASURED),
    )


def _kept(person: Person) -> list[tuple[PartTable, Rows]]:
    """Load what is reserved for a person, kind by kind."""
    parts = Part.objects.filter(state=PartState.RESERVED, holder=person)
    on_axle = parts.filter(gear__role__in=_ON_AXLE)
    on_shaft = parts.filter(gear__role=GearRole.PINION)
    gears = load_columns(on_axle, PartKind.GEAR, gauges=gauges_of_parts())
    pinions = load_columns(on_shaft, PartKind.GEAR, gauges=gauges_of_parts())
    motors = load_columns(parts, PartKind.MOTOR, gauges=gauges_of_parts())
    pairs = load_pairs(parts, gauges=gauges_of_parts())
    tables: list[tuple[PartTable, Rows]] = [
        (gears_of(gears), gears.pk[:, None]),
        (pinions_of(pinions), pinions.pk[:, None]),
        (motors_of(motors), motors.pk[:, None]),
        (pairs.table, np.column_stack([pairs.left, pairs.right])),
    ]
    return [(table, keys) for table, keys in tables if len(keys)]


def _fitting(car: CarNow, table: PartTable, keys: Rows) -> Iterator[int]:
    """Give what of it fits a car."""
    fits = set_against(table, car.envelope).table.fits
    yield from keys[np.flatnonzero(fits)].ravel().tolist()
