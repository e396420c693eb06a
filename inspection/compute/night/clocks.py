"""
A clock that was set while a sheet was open.

The moments of one computer follow each other; where the next is before the last,
or much later than anybody leaves a car on the block, the clock was set, and the
times on the sheet do not stand on one scale.  Seconds.
"""

from enum import StrEnum
from typing import Final

#: Two computers that serve the same desk differ by less.
MOST_BACK_S: Final = 5.0
#: A sheet is sealed the same evening.
MOST_ON_S: Final = 86_400.0


class ClockJump(StrEnum):
    """Which way a clock was set."""

    BACK = "back"
    ON = "on"


def clock_jump(elapsed_s: float) -> ClockJump | None:
    """
    Tell whether a clock was set between two moments that follow each other.

    Parameters
    ----------
    elapsed_s : float
        The later moment less the earlier one, seconds.

    Returns
    -------
    ClockJump or None
        Which way it was set, if it was.

    Examples
    --------
    >>> clock_jump(-3600.0)
    <ClockJump.BACK: 'back'>
    >>> clock_jump(3600.0) is None
    True
    """
    if elapsed_s < -MOST_BACK_S:
        return ClockJump.BACK
    return ClockJump.ON if elapsed_s > MOST_ON_S else None
