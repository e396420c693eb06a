"""The roles that a person may hold in the club, and what each of them may do."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Role(StrEnum):
    """What a person is in the club; one person may hold several."""

    MEMBER = "member"
    SCRUTINEER = "scrutineer"
    PARTS_KEEPER = "parts keeper"
    CHIEF_SCRUTINEER = "chief scrutineer"
    ADMIN = "admin"


class Ability(StrEnum):
    """What somebody may do; pages, actions and templates ask for these alone."""

    #: Open what is the whole club's, and see one's own cars and sheets.
    LOOK = "look"
    RESERVE_PARTS = "reserve parts"
    KEEP_PARTS = "keep parts"
    CHECK_GAUGES = "check gauges"
    SEE_EVERY_CAR = "see every car"
    #: Put parts on cars that are somebody else's, and take them off.
    FIT_PARTS = "fit parts to every car"
    #: Enter cars, call them to the block, measure, hand remedies out, withdraw.
    INSPECT_CARS = "inspect cars"
    SEAL_SHEETS = "seal sheets"
    #: Inspect a car of one's own or of one's family, where nobody else can.
    INSPECT_OWN_CAR = "inspect own car"
    REOPEN_CARS = "reopen cars"
    #: Send a car back, with a reason, that no reading speaks against.
    SEND_BACK_BY_WORD = "send back by word"
    #: Measure for the club: such figures stand on the block, others are declared.
    MEASURE_FOR_THE_CLUB = "measure for the club"
    #: Say of a sealed sheet in question whether it stands.
    RULE_ON_SHEETS = "rule on sheets"
    RUN_NIGHTS = "run nights"
    WRITE_RULEBOOKS = "write rulebooks"
    MANAGE_PEOPLE = "manage people"
    #: Name the club, its address, its clock and its blocks.
    SET_UP_CLUB = "set up the club"
    #: Take the whole club out as a file, and bring lists of it in.
    MOVE_CLUB = "move the club"


#: Asked for a second factor where the club is reached from outside the hall.
ROLES_WITH_SECOND_FACTOR: Final = frozenset({Role.ADMIN, Role.CHIEF_SCRUTINEER})

_SCRUTINEERS: Final = frozenset({Role.SCRUTINEER, Role.CHIEF_SCRUTINEER})
_CHIEF: Final = frozenset({Role.CHIEF_SCRUTINEER})

#: Who may: the roles that have each ability.
ROLES_THAT_MAY: Final[Mapping[Ability, frozenset[Role]]] = MappingProxyType(
    {
        Ability.LOOK: frozenset(Role),
        Ability.RESERVE_PARTS: _SCRUTINEERS | {Role.MEMBER, Role.PARTS_KEEPER},
        Ability.KEEP_PARTS: frozenset({Role.PARTS_KEEPER}),
        Ability.CHECK_GAUGES: _SCRUTINEERS | {Role.PARTS_KEEPER},
        Ability.SEE_EVERY_CAR: _SCRUTINEERS | {Role.ADMIN},
        Ability.FIT_PARTS: _SCRUTINEERS | {Role.PARTS_KEEPER},
        Ability.INSPECT_CARS: _SCRUTINEERS,
        Ability.SEAL_SHEETS: _SCRUTINEERS,
        Ability.INSPECT_OWN_CAR: _CHIEF,
        Ability.REOPEN_CARS: _CHIEF,
        Ability.SEND_BACK_BY_WORD: _CHIEF,
        Ability.MEASURE_FOR_THE_CLUB: _SCRUTINEERS | {Role.PARTS_KEEPER},
        Ability.RULE_ON_SHEETS: _CHIEF,
        Ability.RUN_NIGHTS: _CHIEF,
        Ability.WRITE_RULEBOOKS: _CHIEF,
        Ability.MANAGE_PEOPLE: frozenset({Role.ADMIN}),
        Ability.SET_UP_CLUB: _CHIEF | {Role.ADMIN},
        Ability.MOVE_CLUB: frozenset({Role.ADMIN}),
    }
)
