"""The people of the demo club, all invented."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

from inventory.actions.audit import Act
from inventory.actions.club import name_club
from inventory.actions.people.joining import add_person, found_club
from inventory.compute.roles import Role
from inventory.models import Person

People: TypeAlias = Mapping[str, Person]


@dataclass(frozen=True, kw_only=True)
class DemoPerson:
    """
    Somebody to add; a first name is what they sign in with.

    Not every member signs in: hashing a password is meant to take its time.
    """

    sign_in_name: str
    name: str
    roles: tuple[Role, ...] = (Role.MEMBER,)
    has_password: bool = True


ADMIN: Final = DemoPerson(
    sign_in_name="winifred", name="Winifred Plumbline", roles=(Role.ADMIN,)
)
CHIEF: Final = "barnaby"
KEEPER: Final = "prudence"
SCRUTINEERS: Final = ("hector", "tamsin")


def _member(sign_in_name: str, name: str) -> DemoPerson:
    return DemoPerson(sign_in_name=sign_in_name, name=name, has_password=False)


PEOPLE: Final = (
    ADMIN,
    DemoPerson(
        sign_in_name=CHIEF,
        name="Barnaby Straightedge",
        roles=(Role.CHIEF_SCRUTINEER, Role.MEMBER),
    ),
    DemoPerson(
        sign_in_name="hector",
        name="Hector Nimblewick",
        roles=(Role.SCRUTINEER, Role.MEMBER),
    ),
    DemoPerson(
        sign_in_name="tamsin",
        name="Tamsin Oakapple",
        roles=(Role.SCRUTINEER, Role.MEMBER),
    ),
    DemoPerson(
        sign_in_name=KEEPER,
        name="Prudence Drawerby",
        roles=(Role.PARTS_KEEPER, Role.MEMBER),
    ),
    DemoPerson(sign_in_name="basil", name="Basil Thornapple"),
    _member("clement", "Clement Hobnail"),
    _member("dorcas", "Dorcas Larkspurling"),
    DemoPerson(sign_in_name="fergus", name="Fergus Mudlarkin"),
    _member("ida", "Ida Pebblecombe"),
    _member("jonas", "Jonas Tumblestile"),
    _member("ottilie", "Ottilie Brightwhistle"),
    _member("rufus", "Rufus Candlethwait"),
    _member("sylvie", "Sylvie Marrowbell"),
)


def join_people(password: str, *, at: dt.datetime) -> dict[str, Person]:
    """Found the club and let everybody in, by their sign-in names."""
    admin = found_club(
        sign_in_name=ADMIN.sign_in_name, name=ADMIN.name, password=password, act_at=at
    )
    name_club(
        name="Nettlewick Slot Racing Club",
        place="Nettlewick village hall",
        act=Act(by=admin, at=at),
    )
    joined = {ADMIN.sign_in_name: admin}
    for minutes, one in enumerate(PEOPLE[1:], start=5):
        joined[one.sign_in_name] = add_person(
            sign_in_name=one.sign_in_name,
            name=one.name,
            password=password if one.has_password else None,
            roles=one.roles,
            act=Act(by=admin, at=at + dt.timedelta(minutes=minutes)),
        )
    return joined
