"""The states of an entry on a race night, and the moves between them."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from inventory.compute.errors import ComputeError


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


#: Every move that a race night knows; all others are refused.
MOVES: Mapping[EntryState, frozenset[EntryState]] = MappingProxyType(
    {
        EntryState.WAITING: frozenset({EntryState.ON_BLOCK, EntryState.WITHDRAWN}),
        EntryState.ON_BLOCK: frozenset(
            {
                EntryState.PASSED,
                EntryState.SENT_BACK,
                EntryState.WITHDRAWN,
            }
        ),
        EntryState.SENT_BACK: frozenset({EntryState.WAITING, EntryState.WITHDRAWN}),
        EntryState.PASSED: frozenset({EntryState.ON_BLOCK, EntryState.WITHDRAWN}),
        EntryState.WITHDRAWN: frozenset(),
    }
)


class MoveRefusedError(ComputeError):
    """An entry cannot go from the one state to the other."""

    code = "move_refused"


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
    """
    if end in MOVES[start]:
        return
    ends = [f"“{state}”" for state in EntryState if state in MOVES[start]]
    msg = (
        f"An entry that is “{start}” cannot become “{end}”; "
        f"it can become {' or '.join(ends) or 'nothing else'}."
    )
    raise MoveRefusedError(msg)
