"""The states of an entry on a race night, and the moves between them."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from inventory.compute.errors import ComputeError
from inventory.compute.stock import GearRole, PartKind


class EntryState(StrEnum):
    """Where a car stands tonight, in the board's order."""

    ON_BLOCK = "on block"
    WAITING = "waiting"
    SENT_BACK = "sent back"
    PASSED = "passed"
    WITHDRAWN = "withdrawn"


class Decision(StrEnum):
    """What a seal says of a car."""

    PASSED = "passed"
    SENT_BACK = "sent back"


class SheetState(StrEnum):
    """What a sheet is: one of these, never two."""

    OPEN = "open"
    SEALED = "sealed"
    VOID = "void"


class ReadingKind(StrEnum):
    """How a reading says its value."""

    VALUE = "value"
    INTERVAL = "interval"
    GO_GAUGE = "go gauge"
    COUNT = "count"
    LOOK = "look"


class PartPosition(StrEnum):
    """Where on a car a part sits."""

    REAR_LEFT = "rear left"
    REAR_RIGHT = "rear right"
    FRONT_LEFT = "front left"
    FRONT_RIGHT = "front right"
    GEAR = "gear"
    PINION = "pinion"
    MOTOR = "motor"
    GUIDE = "guide"


class Axle(StrEnum):
    """The axles of a car, by their end of it."""

    REAR = "rear"
    FRONT = "front"


#: The places of an axle's two tyres, left and right.
TYRES_OF_AXLE: Mapping[Axle, tuple[PartPosition, PartPosition]] = MappingProxyType(
    {
        Axle.REAR: (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT),
        Axle.FRONT: (PartPosition.FRONT_LEFT, PartPosition.FRONT_RIGHT),
    }
)
#: What kind of part goes where.
KIND_OF_POSITION: Mapping[PartPosition, PartKind] = MappingProxyType(
    {
        PartPosition.REAR_LEFT: PartKind.TYRE,
        PartPosition.REAR_RIGHT: PartKind.TYRE,
        PartPosition.FRONT_LEFT: PartKind.TYRE,
        PartPosition.FRONT_RIGHT: PartKind.TYRE,
        PartPosition.GEAR: PartKind.GEAR,
        PartPosition.PINION: PartKind.GEAR,
        PartPosition.MOTOR: PartKind.MOTOR,
        PartPosition.GUIDE: PartKind.GUIDE,
    }
)
#: Of gears, which do what where.
ROLES_OF_POSITION: Mapping[PartPosition, frozenset[GearRole]] = MappingProxyType(
    {
        PartPosition.GEAR: frozenset({GearRole.SPUR, GearRole.CROWN}),
        PartPosition.PINION: frozenset({GearRole.PINION}),
    }
)

#: Every move that a race night knows; all others are refused.
MOVES: Mapping[EntryState, frozenset[EntryState]] = MappingProxyType(
    {
        EntryState.WAITING: frozenset({EntryState.ON_BLOCK, EntryState.WITHDRAWN}),
        EntryState.ON_BLOCK: frozenset(
            {
                EntryState.WAITING,
                EntryState.PASSED,
                EntryState.SENT_BACK,
                EntryState.WITHDRAWN,
            }
        ),
        EntryState.SENT_BACK: frozenset({EntryState.WAITING, EntryState.WITHDRAWN}),
        EntryState.PASSED: frozenset({EntryState.ON_BLOCK, EntryState.WITHDRAWN}),
        EntryState.WITHDRAWN: frozenset(
            {EntryState.WAITING, EntryState.SENT_BACK, EntryState.PASSED}
        ),
    }
)


class MoveRefusedError(ComputeError):
    """An entry cannot go from the one state to the other."""

    code = "move_refused"

    def __init__(
        self, start: EntryState, end: EntryState, ends: tuple[EntryState, ...]
    ) -> None:
        super().__init__(f"a car that is “{start}” does not become “{end}”")
        self.start, self.end, self.ends = start, end, ends


def check_move(start: EntryState, end: EntryState) -> None:
    """
    Refuse a move that a race night does not know.

    Parameters
    ----------
    start, end : EntryState
        The state before and after.

    Raises
    ------
    MoveRefusedError
        With the states that can be reached.

    Examples
    --------
    >>> check_move(EntryState.WAITING, EntryState.ON_BLOCK)
    >>> try:
    ...     check_move(EntryState.WAITING, EntryState.PASSED)
    ... except MoveRefusedError as refusal:
    ...     print(type(refusal).__name__)
    MoveRefusedError
    """
    if end in MOVES[start]:
        return
    ends = tuple(state for state in EntryState if state in MOVES[start])
    raise MoveRefusedError(start, end, ends)


def state_after_undoing(before: EntryState) -> EntryState:
    """
    Say where a car stands whose withdrawal is undone: where it stood before.

    A car that was withdrawn from the block waits: its sheet is void.

    Parameters
    ----------
    before : EntryState
        Where it stood when it was withdrawn.

    Returns
    -------
    EntryState
        Where it stands again.

    Examples
    --------
    >>> state_after_undoing(EntryState.ON_BLOCK).value
    'waiting'
    >>> state_after_undoing(EntryState.PASSED).value
    'passed'
    """
    return EntryState.WAITING if before is EntryState.ON_BLOCK else before
