"""What a club that has just begun has still to do before its first night."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from django.db.models import Exists, OuterRef, QuerySet

from inspection.models import Block, Car, Edition, RaceNight
from inventory.compute.measuring import CheckResult
from inventory.compute.roles import ROLES_THAT_MAY, Ability, Role
from inventory.models import Club, Gauge, GaugeCheck, Person


class Step(StrEnum):
    """A step between an empty club and its first night, in a good order."""

    CLUB = "club"
    BLOCKS = "blocks"
    RULEBOOK = "rulebook"
    PEOPLE = "people"
    GAUGES = "gauges"
    CARS = "cars"
    NIGHT = "night"


#: What whoever takes the step must be able to do.
ABILITY_FOR: Final = {
    Step.CLUB: Ability.SET_UP_CLUB,
    Step.BLOCKS: Ability.SET_UP_CLUB,
    Step.RULEBOOK: Ability.WRITE_RULEBOOKS,
    Step.PEOPLE: Ability.MANAGE_PEOPLE,
    Step.GAUGES: Ability.CHECK_GAUGES,
    Step.CARS: Ability.LOOK,
    Step.NIGHT: Ability.RUN_NIGHTS,
}


@dataclass(frozen=True, kw_only=True)
class ToDo:
    """One step, how far it is, and whether it is the reader's to take."""

    step: Step
    is_done: bool
    is_begun: bool
    is_mine: bool

    @property
    def roles(self) -> list[Role]:
        """Who takes the step, for whoever may not."""
        return sorted(ROLES_THAT_MAY[ABILITY_FOR[self.step]])


def load_checklist(person: Person) -> list[ToDo]:
    """
    Load how far each step is, in one query.

    Empty when all is done, and for whom there is nothing to do but bring a car.
    """
    if not any(person.may(ability) for ability in _SETTING_UP):
        return []
    rows = _what_tells()
    asked = Person.objects.filter(pk=person.pk)
    told = asked.values_list(*[Exists(one) for one in rows.values()]).get()
    is_there = dict(zip(rows, told, strict=True))
    steps = [
        ToDo(
            step=step,
            is_done=is_there[step, True],
            is_begun=is_there.get((step, False), False),
            is_mine=person.may(ABILITY_FOR[step]),
        )
        for step in Step
    ]
    return [] if all(one.is_done for one in steps) else steps


_SETTING_UP: Final = frozenset(ABILITY_FOR.values()) - {Ability.LOOK}


def _what_tells() -> dict[tuple[Step, bool], QuerySet[Any]]:
    """Give the rows that tell of a step that it is done (True), or begun (False)."""
    return {
        (Step.CLUB, True): Club.objects.all(),
        (Step.BLOCKS, True): Block.objects.all(),
        (Step.RULEBOOK, False): Edition.objects.all(),
        (Step.RULEBOOK, True): Edition.objects.published(),
        (Step.PEOPLE, True): Person.objects.exclude(pk=OuterRef("pk")),
        (Step.GAUGES, False): Gauge.objects.all(),
        (Step.GAUGES, True): GaugeCheck.objects.counting().filter(
            result=CheckResult.PASSED
        ),
        (Step.CARS, True): Car.objects.all(),
        (Step.NIGHT, True): RaceNight.objects.all(),
    }
