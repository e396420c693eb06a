"""Protests: what may become of one, and until when one may be raised."""

from enum import StrEnum
from typing import Final

#: Minutes after a ruling in which it may be protested, where a class says nothing.
USUAL_MINUTES: Final = 30


class ProtestRuling(StrEnum):
    """What became of a protest."""

    UPHELD = "upheld"
    REJECTED = "rejected"
    WITHDRAWN = "withdrawn"


def is_in_time(seconds_gone: float, *, minutes: int) -> bool:
    """
    Tell whether a protest comes in time; the last moment still counts.

    Parameters
    ----------
    seconds_gone : float
        Since what it is against was sealed or ruled.
    minutes : int
        The class's time.

    Returns
    -------
    bool
        Whether it may be raised.

    Examples
    --------
    >>> is_in_time(900.0, minutes=15), is_in_time(900.5, minutes=15)
    (True, False)
    """
    return seconds_gone <= minutes * 60
