"""The whole demo club, played from its founding to the middle of tonight."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils import timezone

from deploy.demo.bags import (
    bring_hand_out_motors,
    draw_motors,
    start_front_bag,
    take_autumn_bag,
)
from deploy.demo.bench import bring_gauges
from deploy.demo.garage import (
    REAR_LEFT,
    REAR_RIGHT,
    change_part,
    fill_garage,
    measure_geometry,
)
from deploy.demo.nights import (
    FIRST,
    SECOND,
    Crew,
    Night,
    hold_past_night,
    hold_tonight,
)
from deploy.demo.parts import (
    BIG_GEAR,
    SMALL_TYRE,
    fill_drawers,
    measure,
)
from deploy.demo.people import CHIEF, KEEPER, SCRUTINEERS, join_people
from deploy.demo.rulebooks import add_classes, publish
from inspection.actions.night.blocks import add_block
from inspection.compute.night import PartPosition
from inspection.models import Edition
from inventory.actions.audit import Act
from inventory.compute.measuring import CheckKind
from inventory.compute.stock import PartQuantity
from inventory.models import Part

#: Who drove in the hand-out race.
DRIVERS: Final = ("basil", "fergus", "ida", "rufus", "sylvie", "dorcas")
BLOCKS: Final = ("Window block", "Stage block")
#: What each car's builder did to it since the last night, and did not see.
REBUILT: Final = {
    "23": {
        "wheelbase_left": "97.94",
        "wheelbase_right": "96.08",
        "axle_to_reference_left": "62.90",
        "axle_to_reference_right": "61.06",
    },
    "7": {"axle_height_front_left": "7.24", "axle_height_front_right": "7.58"},
    "31": {"axle_height_rear_left": "9.31", "axle_height_rear_right": "9.07"},
}


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """Days and hours before tonight."""

    now: dt.datetime

    def days_ago(self, days: int, *, hour: int = 19) -> dt.datetime:
        """Give an hour of the club's own clock on a day before tonight's."""
        day = timezone.localdate(self.now) - dt.timedelta(days=days)
        zone = timezone.get_current_timezone()
        return dt.datetime.combine(day, dt.time(hour), tzinfo=zone)


@dataclass(frozen=True, kw_only=True)
class Founded:
    """The club before its first night: who runs it, and what lies in its drawers."""

    crew: Crew
    edition: Edition
    spares: Sequence[Part]
    motors: Sequence[str]


def play_club(*, now: dt.datetime, password: str) -> Night:
    """
    Make the club and its history; every step by the action that pages call.

    Gives tonight as it stands.
    """
    calendar = Calendar(now=now)
    return hold_season(gather_club(calendar, password=password), calendar)


def gather_club(calendar: Calendar, *, password: str) -> Founded:
    """Bring people, rules, gauges, cars and parts together."""
    people = join_people(password, at=calendar.days_ago(400))
    chief, keeper = people[CHIEF], people[KEEPER]
    founding = Act(by=chief, at=calendar.days_ago(320))
    classes = add_classes(act=founding)
    first_edition = publish(1, act=Act(by=chief, at=calendar.days_ago(300)))
    bench = bring_gauges(chief, at=calendar.days_ago(200, hour=10))
    spares = fill_drawers(
        bench, keeper=keeper, member=people["basil"], at=calendar.days_ago(121, hour=10)
    )
    crew = Crew(
        people=people,
        classes=classes,
        garage=fill_garage(
            people,
            classes,
            bench,
            keeper=keeper,
            chief=chief,
            at=calendar.days_ago(90, hour=8),
        ),
        blocks=[add_block(name, act=founding) for name in BLOCKS],
        bench=bench,
    )
    take_autumn_bag(
        bench, keeper=keeper, member=people["basil"], at=calendar.days_ago(60, hour=11)
    )
    motors = bring_hand_out_motors(keeper=keeper, at=calendar.days_ago(55, hour=11))
    return Founded(crew=crew, edition=first_edition, spares=spares, motors=motors)


def hold_season(founded: Founded, calendar: Calendar) -> Night:
    """Hold the nights of the season, the last of them up to now."""
    crew = founded.crew
    chief, keeper = crew.people[CHIEF], crew.people[KEEPER]
    hold_past_night(crew, founded.edition, FIRST, opens_at=calendar.days_ago(28))
    _check(crew, "Caliper A", bias="0.01", at=calendar.days_ago(25))
    edition = publish(2, act=Act(by=chief, at=calendar.days_ago(20)))
    hold_past_night(crew, edition, SECOND, opens_at=calendar.days_ago(14))
    draw_motors(
        founded.motors,
        drivers=[crew.people[name].name for name in DRIVERS],
        keeper=keeper,
        at=calendar.days_ago(13),
    )
    _check(crew, "Caliper C", bias="0.05", at=calendar.days_ago(12))
    _tinker(crew, founded.spares, calendar)
    start_front_bag(crew.bench, keeper=keeper, at=calendar.days_ago(2, hour=11))
    return hold_tonight(crew, edition, now=calendar.now)


def _check(crew: Crew, name: str, *, bias: str, at: dt.datetime) -> None:
    act = Act(by=crew.people[SCRUTINEERS[1]], at=at)
    crew.bench.check(name, act=act, kind=CheckKind.MASTER, bias=bias)


def _tinker(crew: Crew, spares: Sequence[Part], calendar: Calendar) -> None:
    """Let the owners work on their cars between the nights."""
    _measure_worn_tyres(crew, at=calendar.days_ago(9))
    for days, (number, texts) in zip((7, 6, 5), REBUILT.items(), strict=True):
        play = crew.garage[number]
        # A rebuilt car's new sizes stand on the block when the club measured them.
        act = Act(by=crew.people[CHIEF], at=calendar.days_ago(days))
        measure_geometry(play.car, texts, crew.bench, act=act)
        play.truth |= texts
    finch, lantern = crew.garage["18"], crew.garage["11"]
    change_part(
        finch,
        PartPosition.GEAR,
        spares[BIG_GEAR],
        act=Act(by=finch.owner, at=calendar.days_ago(4)),
    )
    finch.truth |= {"teeth_gear": "34", "gear_diameter": "18.22"}
    change_part(
        lantern,
        PartPosition.REAR_RIGHT,
        spares[SMALL_TYRE],
        act=Act(by=lantern.owner, at=calendar.days_ago(3)),
    )
    lantern.truth[REAR_RIGHT] = "18.58"


def _measure_worn_tyres(crew: Crew, *, at: dt.datetime) -> None:
    shadow, act = crew.garage["42"], Act(by=crew.people[KEEPER], at=at)
    for position, column in (
        (PartPosition.REAR_LEFT, REAR_LEFT),
        (PartPosition.REAR_RIGHT, REAR_RIGHT),
    ):
        measure(
            shadow.parts[position],
            PartQuantity.TYRE_DIAMETER,
            shadow.truth[column],
            crew.bench,
            act=act,
        )
