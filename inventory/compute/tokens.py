"""What a token of the API may be used for, and how one is written."""

from enum import StrEnum
from typing import Final

from inventory.compute.roles import Ability

#: By what a token is known where it should not be: in a log, a mail, a file.
TOKEN_SIGN: Final = "fbk_"  # noqa: S105  a mark, no secret
BOX_SIGN: Final = "fbx_"
#: A token that nobody renews ends: so many days at most, and so many unless said.
MOST_DAYS: Final = 366
USUAL_DAYS: Final = 90


class Scope(StrEnum):
    """What a token may do of what its owner may: each may read besides."""

    READ = "read"
    READINGS = "readings"
    PARTS = "parts"
    ALL = "all"

    def covers(self, asked: "Scope") -> bool:
        """
        Tell whether a token of this scope may do what asks for another.

        Parameters
        ----------
        asked : Scope
            What an operation asks for.

        Returns
        -------
        bool
            Whether it may.
        """
        return asked in {Scope.READ, self} or self is Scope.ALL


#: A scope is offered to those who may do one of these.
ABILITIES_OF_SCOPE: Final = {
    Scope.READ: frozenset({Ability.LOOK}),
    Scope.READINGS: frozenset({Ability.INSPECT_CARS}),
    Scope.PARTS: frozenset({Ability.KEEP_PARTS, Ability.CHECK_GAUGES}),
    Scope.ALL: frozenset({Ability.LOOK}),
}
