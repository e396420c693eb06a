"""The demo's cars in play: registered, fitted, measured, and worn by racing."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Final, TypeAlias

from deploy.demo.bench import Bench
from deploy.demo.cars import CARS, DemoCar
from deploy.demo.parts import (
    FIRM_FRONT,
    SOFT_REAR,
    SOFT_WIDE,
    DemoPart,
    bring_part,
    gear,
    motor,
    tyre,
)
from deploy.demo.people import People
from inspection.actions.cars import (
    CarFacts,
    TakenWith,
    register_car,
    store_geometry,
)
from inspection.actions.fit.fitted import fit_part
from inspection.actions.rooms import store_room_sizes
from inspection.compute.night import PartPosition
from inspection.compute.quantities import PART_COLUMNS, TEETH_COLUMNS, Layout
from inspection.loaders.block.sheets import quantity_of
from inspection.models import Car, RaceClass
from inventory.actions.audit import Act
from inventory.compute.stock import GearRole
from inventory.models import GaugeCheck, GaugeMode, Part, Person

_SEEN: Final[Mapping[str, str]] = {
    "motor_sealed": "yes",
    "tyres_treated": "no",
    "driver_and_interior": "yes",
    "clearance_rear": "yes",
    "clearance_front": "yes",
}
REAR_LEFT, REAR_RIGHT = "tyre_diameter_rear_left", "tyre_diameter_rear_right"


@dataclass(kw_only=True)
class CarInPlay:
    """A car of the demo with what is really so of it, as its owner cannot see it."""

    demo: DemoCar
    car: Car
    owner: Person
    parts: dict[PartPosition, Part]
    truth: dict[str, str]

    @property
    def on_record(self) -> frozenset[str]:
        """Columns that the stored geometry or a fitted part's readings give."""
        of_parts = {*PART_COLUMNS.values(), *TEETH_COLUMNS.values()}
        return frozenset({*self.demo.stored, *(of_parts & self.truth.keys())})

    def wear(self) -> None:
        """Take off the rear tyres what a night takes off."""
        for column in (REAR_LEFT, REAR_RIGHT):
            self.truth[column] = str(Decimal(self.truth[column]) - self.demo.wear)


Garage: TypeAlias = Mapping[str, CarInPlay]


def fill_garage(
    people: People,
    classes: Mapping[str, RaceClass],
    bench: Bench,
    *,
    keeper: Person,
    chief: Person,
    at: dt.datetime,
) -> dict[str, CarInPlay]:
    """
    Register every car, bring and fit its parts, store its geometry.

    The keeper measures; the keeper's own car is the chief's to measure.
    """
    return {
        demo.number: _bring_car(
            demo,
            people[demo.owner],
            classes[demo.race_class],
            bench,
            Act(
                by=chief if people[demo.owner] == keeper else keeper,
                at=at + dt.timedelta(hours=place),
            ),
        )
        for place, demo in enumerate(CARS)
    }


def _bring_car(
    demo: DemoCar, owner: Person, race_class: RaceClass, bench: Bench, act: Act
) -> CarInPlay:
    car = register_car(
        CarFacts(
            number=demo.number,
            name=demo.name,
            owner=owner,
            race_class=race_class,
            layout=demo.layout,
            front_carrier=demo.front_carrier,
        ),
        act=act,
    )
    parts = {
        position: bring_part(part, bench, act=act)
        for position, part in _parts_of(demo, owner).items()
    }
    for position, part in parts.items():
        fit_part(car, part, position, act=act)
    measure_geometry(car, demo.stored, bench, act=act)
    if demo.room:
        store_room_sizes(car, demo.room, act=act)
    return CarInPlay(
        demo=demo, car=car, owner=owner, parts=parts, truth=_truth_of(demo)
    )


def change_part(
    play: CarInPlay, position: PartPosition, part: Part, *, act: Act
) -> None:
    """Fit another part; what sat there goes back into stock."""
    fit_part(play.car, part, position, act=act)
    play.parts[position] = part


def measure_geometry(
    car: Car, texts: Mapping[str, str], bench: Bench, *, act: Act
) -> None:
    """Store a car's geometry, each value by the gauge it is usually taken with."""
    by_mode: dict[GaugeMode, dict[str, str]] = defaultdict(dict)
    for column, text in texts.items():
        mode = bench.mode_for(quantity_of(column))
        by_mode[mode][column] = text
    for mode, values in by_mode.items():
        # Checks come newest first, and history is played in order.
        check = GaugeCheck.objects.filter(gauge=mode.gauge).first()
        taken_with = TakenWith(gauge_mode=mode, gauge_check=check)
        store_geometry(car, values, taken_with=taken_with, act=act)


def _parts_of(demo: DemoCar, owner: Person) -> dict[PartPosition, DemoPart]:
    saloon = demo.layout is Layout.IN_LINE
    family, facts = ("town", SOFT_REAR) if saloon else ("night", SOFT_WIDE)
    pitch = "48 pitch" if saloon else "64 pitch"
    role = GearRole.CROWN if saloon else GearRole.SPUR
    width = demo.truth["tyre_width_rear"]
    rear = partial(tyre, end="rear", facts=facts, owner=owner)
    cog = partial(gear, pitch=pitch, owner=owner)
    parts = {
        PartPosition.REAR_LEFT: rear(demo.rear[0], width),
        PartPosition.REAR_RIGHT: rear(demo.rear[1], width),
        PartPosition.GEAR: cog(*demo.gear, role=role),
        PartPosition.PINION: cog(*demo.pinion, role=GearRole.PINION),
        PartPosition.MOTOR: motor(
            demo.can, demo.speed, demo.resistance, family=family, owner=owner
        ),
    }
    return parts | _front_tyres(demo, owner)


def _front_tyres(demo: DemoCar, owner: Person) -> dict[PartPosition, DemoPart]:
    if demo.front is None:
        return {}
    width = demo.truth["tyre_width_front"]
    front = partial(tyre, end="front", facts=FIRM_FRONT, owner=owner)
    return {
        PartPosition.FRONT_LEFT: front(demo.front[0], width),
        PartPosition.FRONT_RIGHT: front(demo.front[1], width),
    }


def _truth_of(demo: DemoCar) -> dict[str, str]:
    truth = {**_SEEN, **demo.truth, "guide_depth": demo.stored["guide_depth"]}
    truth[REAR_LEFT], truth[REAR_RIGHT] = demo.rear
    if demo.front is not None:
        truth["tyre_diameter_front_left"] = demo.front[0]
        truth["tyre_diameter_front_right"] = demo.front[1]
    truth["teeth_gear"], truth["gear_diameter"] = str(demo.gear[0]), demo.gear[1]
    truth["teeth_pinion"] = str(demo.pinion[0])
    truth["can_height"], truth["can_width"], _ = demo.can
    return truth
