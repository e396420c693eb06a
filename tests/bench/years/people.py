"""The people of the years: members without a password, some of them scrutineers."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from deploy.demo.club import Founded
from inspection.loaders.block.seals import person_as_json
from inventory.compute.roles import Role
from inventory.models import Person, RoleGrant
from tests.bench.years.sizes import Sizes

CREW_OF_YEARS: Final = 8
#: A crew of two serves so many nights.
_NIGHTS_A_CREW: Final = 20
_SCRUTINEERS: Final = ("hector", "tamsin")
_FIRST: Final = ("Alma", "Bert", "Cora", "Dunstan", "Elsie", "Fitch", "Gwen", "Hob")
_LAST: Final = ("Oakhurst", "Millrace", "Thistle", "Quarrier", "Pennyfold")


def join_members(sizes: Sizes, *, at: dt.datetime) -> tuple[list[Person], list[Person]]:
    """Let people in; give those who are scrutineers, and the rest."""
    people = Person.objects.bulk_create(
        Person(
            sign_in_name=f"member{place:04}",
            name=_name(place),
            password="!",
            joined_at=at,
        )
        for place in range(sizes.people)
    )
    crew = people[: min(CREW_OF_YEARS, len(people) // 2)]
    roles = [(one, Role.MEMBER) for one in people]
    roles += [(one, Role.SCRUTINEER) for one in crew]
    RoleGrant.objects.bulk_create(
        RoleGrant(person=one, role=role, granted_at=at) for one, role in roles
    )
    return crew, people[len(crew) :]


def _name(place: int) -> str:
    return f"{_FIRST[place % 8]} {_LAST[place // 8 % 5]} {place // 40 + 1}"


@dataclass(frozen=True, kw_only=True)
class Cast:
    """Who does in a copied night what somebody did in the played one."""

    readers: Mapping[int, int]
    chief_id: int
    #: How a seal names each person.
    named: Mapping[int, dict[str, Any]]

    def person(self, played_by: int, owner_id: int) -> int:
        """Give who it was: a scrutineer of those years, the chief, or the owner."""
        if played_by == self.chief_id:
            return played_by
        return self.readers.get(played_by, owner_id)


def cast_of(place: int, founded: Founded, crew: Sequence[Person], named: Any) -> Cast:
    """Give a night its two scrutineers."""
    people, shift = founded.crew.people, place // _NIGHTS_A_CREW
    return Cast(
        readers={
            people[name].pk: crew[(shift + at) % len(crew)].pk
            for at, name in enumerate(_SCRUTINEERS)
        },
        chief_id=founded.crew.chief.pk,
        named=named,
    )


def names_in_seals() -> dict[int, dict[str, Any]]:
    """Write everybody as a seal does, once."""
    return {one.pk: person_as_json(one) for one in Person.objects.all()}
