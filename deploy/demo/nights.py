"""The demo club's race nights: two of the past, and tonight half done."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import cycle
from typing import Final

from django.utils import timezone

from deploy.demo.bench import Bench, check_for_night
from deploy.demo.block import (
    Clock,
    Turn,
    inspect,
    put_on_block,
    read,
    read_amiss,
)
from deploy.demo.garage import (
    REAR_LEFT,
    REAR_RIGHT,
    CarInPlay,
    Garage,
)
from deploy.demo.people import CHIEF, SCRUTINEERS, People
from inspection.actions.race_nights import (
    call_back,
    close_night,
    enter_car,
    open_night,
    plan_night,
    withdraw_entry,
)
from inspection.actions.seal_checks import settle_night
from inspection.compute.asking import Area
from inspection.models import Block, Edition, Entry, RaceClass, RaceNight
from inventory.actions.audit import Act
from inventory.models import Person

PLACE: Final = "Nettlewick village hall"


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """What is found of a car, and what its owner then does about it."""

    found: Mapping[str, str]
    mended: Mapping[str, str]
    areas: tuple[Area, ...]


@dataclass(frozen=True, kw_only=True)
class NightPlan:
    """A night of the past; ``checked_after`` are cars seen again after the race."""

    name: str
    cars: tuple[str, ...]
    troubles: Mapping[str, Trouble] = field(default_factory=dict)
    stays_out: str = ""
    checked_after: tuple[str, ...] = ()


FIRST: Final = NightPlan(
    name="First league night",
    cars=("3", "11", "18", "31", "42", "51"),
    troubles={
        "42": Trouble(
            found={"motor_sealed": "no"},
            mended={"motor_sealed": "yes"},
            areas=(Area.MOTOR,),
        ),
        "18": Trouble(
            found={"weight_car": "76.8"},
            mended={"weight_car": "82.8"},
            areas=(Area.CHASSIS,),
        ),
    },
    checked_after=("3", "51"),
)
SECOND: Final = NightPlan(
    name="Second league night",
    cars=("58", "46", "3", "14", "7", "23"),
    troubles={
        "3": Trouble(
            found={"clearance_front": "no"},
            mended={"clearance_front": "yes"},
            areas=(Area.CHASSIS,),
        ),
        "46": Trouble(
            found={"tyres_treated": "yes"},
            mended={"tyres_treated": "no"},
            areas=(Area.REAR_TYRES,),
        ),
    },
    stays_out="46",
    checked_after=("14", "58"),
)

#: Tonight's cars as they came through the door; those not seen yet last.
TONIGHT: Final = ("35", "14", "3", "18", "7", "51", "58", "11", "46", "42", "31", "23")
TOO_LIGHT: Final = Trouble(
    found={"weight_car": "110.8"},
    mended={"weight_car": "114.2"},
    areas=(Area.CHASSIS,),
)
WITHDRAWN: Final = ("51", "The motor was left on the kitchen table.")
ON_BLOCK: Final = "7"
READ_SO_FAR: Final = 10


@dataclass(frozen=True, kw_only=True)
class Crew:
    """Who runs a night, on which blocks, with which gauges."""

    people: People
    classes: Mapping[str, RaceClass]
    garage: Garage
    blocks: Sequence[Block]
    bench: Bench

    @property
    def chief(self) -> Person:
        return self.people[CHIEF]

    def reader_for(self, play: CarInPlay, place: int) -> Person:
        """Take the scrutineers in turn, none for a car of their own."""
        readers = [self.people[name] for name in SCRUTINEERS]
        free = [one for one in readers if one != play.owner]
        return free[place % len(free)]


class Night:
    """One race night as it goes on."""

    def __init__(
        self, crew: Crew, edition: Edition, *, name: str, opens_at: dt.datetime
    ) -> None:
        self.crew = crew
        self.clock = Clock(opens_at - dt.timedelta(minutes=12))
        planned = Act(by=crew.chief, at=opens_at - dt.timedelta(days=6))
        self.race_night = plan_night(
            name=name,
            date=timezone.localdate(opens_at),
            place=PLACE,
            editions=dict.fromkeys(crew.classes.values(), edition),
            act=planned,
        )
        self.entries: dict[str, Entry] = {}
        self._places = cycle(range(len(crew.blocks)))

    def begin(self, cars: Sequence[str]) -> None:
        """Check the gauges, enter the cars as they arrive, and open the night."""
        scrutineer = self.crew.people[SCRUTINEERS[0]]
        check_for_night(
            self.crew.bench, act=Act(by=scrutineer, at=self.clock.tick(minutes=1))
        )
        for number in cars:
            self._enter(number)
        self.race_night = open_night(self.race_night, act=self._chief_acts(seconds=30))

    def turn(self, number: str) -> Turn:
        """Give a car its turn on the next block."""
        place = next(self._places)
        play = self.crew.garage[number]
        return Turn(
            entry=self.entries[number],
            play=play,
            reader=self.crew.reader_for(play, place),
            block=self.crew.blocks[place],
            bench=self.crew.bench,
            clock=self.clock,
        )

    def send_back(self, number: str, trouble: Trouble) -> None:
        """Find a car's trouble."""
        self.crew.garage[number].truth.update(trouble.found)
        inspect(self.turn(number))

    def see_again(self, number: str, trouble: Trouble) -> None:
        """Call a car that was sent back, its trouble mended, to its re-check."""
        self.crew.garage[number].truth.update(trouble.mended)
        call_back(self.entries[number].pk, act=self._chief_acts(seconds=60))
        inspect(self.turn(number), changed=trouble.areas)

    def withdraw(self, number: str, reason: str) -> None:
        withdraw_entry(
            self.entries[number].pk, reason=reason, act=self._chief_acts(seconds=20)
        )

    def close(self) -> RaceNight:
        act = self._chief_acts(seconds=600)
        closed = close_night(self.race_night, act=act)
        settle_night(closed, act=act)
        return closed

    def _enter(self, number: str) -> None:
        play = self.crew.garage[number]
        self.entries[number] = enter_car(
            self.race_night,
            play.car,
            race_class=play.car.race_class,
            driver=play.owner,
            act=Act(by=play.owner, at=self.clock.tick(seconds=40)),
        )

    def _chief_acts(self, *, seconds: float) -> Act:
        return Act(by=self.crew.chief, at=self.clock.tick(seconds=seconds))


def hold_past_night(
    crew: Crew, edition: Edition, plan: NightPlan, *, opens_at: dt.datetime
) -> None:
    """Play a whole night: inspection, the race, the checks after it."""
    night = Night(crew, edition, name=plan.name, opens_at=opens_at)
    night.begin(plan.cars)
    for number in plan.cars:
        trouble = plan.troubles.get(number)
        if trouble is None:
            inspect(night.turn(number), repeats=(REAR_LEFT, REAR_RIGHT))
            continue
        night.send_back(number, trouble)
        if number != plan.stays_out:
            night.see_again(number, trouble)
    night.clock.tick(minutes=70)
    for number in plan.cars:
        if number != plan.stays_out:
            crew.garage[number].wear()
    for number in plan.checked_after:
        inspect(night.turn(number))
    if plan.stays_out:
        night.withdraw(plan.stays_out, "Not mended in time for the race.")
    night.close()


def hold_tonight(crew: Crew, edition: Edition, *, now: dt.datetime) -> Night:
    """Play tonight up to now: half the cars seen, one on the block."""
    opens_at = now - dt.timedelta(minutes=16)
    night = Night(crew, edition, name="Third league night", opens_at=opens_at)
    night.begin(TONIGHT)
    inspect(night.turn("14"))
    night.send_back("35", TOO_LIGHT)
    inspect(night.turn("3"))
    night.withdraw(*WITHDRAWN)
    inspect(night.turn("18"))
    night.see_again("35", TOO_LIGHT)
    _begin_on_block(night, now)
    return night


def _begin_on_block(night: Night, now: dt.datetime) -> None:
    """Leave one car on the block with some of its readings taken, one struck."""
    night.clock.at = now - dt.timedelta(seconds=110)
    on_block = put_on_block(night.turn(ON_BLOCK))
    for column in on_block.columns[:READ_SO_FAR]:
        if column == "width_rear":
            read_amiss(
                on_block,
                column,
                text="60.58",
                reason="The jaws stood on a wheel nut.",
            )
        else:
            read(on_block, column)
