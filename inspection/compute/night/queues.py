"""How long a car waits for the block."""

import math
from collections.abc import Sequence
from statistics import median
from typing import Final

#: Minutes that a car takes where a night has not shown it yet: common practice, no
#: source.
USUAL_MINUTES_A_CAR: Final = 3.0
#: So many cars tell how quick a night is.
_ENOUGH: Final = 3


def minutes_a_car(minutes: Sequence[float]) -> float:
    """
    Give how long a car takes tonight.

    Parameters
    ----------
    minutes : sequence of float
        How long each of tonight's last cars stood on the block.

    Returns
    -------
    float
        Their median, which one long search does not move; the usual figure where
        fewer than three have been through.

    Examples
    --------
    >>> minutes_a_car([2.0, 4.0, 60.0])
    4.0
    """
    return median(minutes) if len(minutes) >= _ENOUGH else USUAL_MINUTES_A_CAR


def minutes_until_turn(before: int, *, a_car: float, blocks: int) -> int:
    """
    Estimate when a waiting car goes on the block.

    The cars that are on the blocks are half through on average, and each block takes
    the next one as it comes free.

    Parameters
    ----------
    before : int
        Cars that wait in front of it.
    a_car : float
        Minutes that a car takes.
    blocks : int
        Blocks at work; 0 where all are free.

    Returns
    -------
    int
        Whole minutes, rounded up; 0 where a block is free for it.

    Examples
    --------
    Two blocks at work, three cars before it: two go in half a car's time, the third
    and this one half a car's time and a whole later.

    >>> minutes_until_turn(3, a_car=4.0, blocks=2)
    6
    """
    if blocks == 0:
        return math.ceil(before * a_car)
    return math.ceil(a_car * (0.5 + before // blocks))
