"""Numbers that cars race with on a night."""

from collections.abc import Set
from itertools import count


def next_free_number(taken: Set[str]) -> str:
    """
    Give the lowest number that nobody races with.

    Parameters
    ----------
    taken : set of str
        Numbers of a night and class.

    Returns
    -------
    str
        From 1 on.

    Examples
    --------
    >>> next_free_number({"1", "2", "7a", "4"})
    '3'
    """
    return next(text for number in count(1) if (text := str(number)) not in taken)
