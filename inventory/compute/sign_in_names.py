"""Sign-in names: plain letters, and none that looks like another."""

import re
from typing import Final

LONGEST: Final = 40
_PLAIN: Final = re.compile(r"[a-z][a-z0-9]*(?:[.-][a-z0-9]+)*")
#: What reads alike on a board or in a list, and is taken for the same, in this order.
ALIKE: Final = (
    ("0", "o"),
    ("1", "l"),
    ("i", "l"),
    ("rn", "m"),
    ("vv", "w"),
    (".", ""),
    ("-", ""),
)


def as_kept(typed: str) -> str:
    """
    Give a sign-in name in the one form that is kept.

    Parameters
    ----------
    typed : str
        As a person typed it.

    Returns
    -------
    str
        Small letters, nothing around them.
    """
    return typed.strip().lower()


def is_plain(name: str) -> bool:
    """
    Tell whether a name is made of what every keyboard has and nobody mistakes.

    Parameters
    ----------
    name : str
        As it is kept.

    Returns
    -------
    bool
        Whether it begins with a letter a to z, and goes on with letters, digits, and
        single dots or hyphens between them.
    """
    return len(name) <= LONGEST and _PLAIN.fullmatch(name) is not None


def look_of(name: str) -> str:
    """
    Give what a name looks like from a step away.

    Parameters
    ----------
    name : str
        As it is kept.

    Returns
    -------
    str
        The same for two names that one might be taken for the other.
    """
    for sign, other in ALIKE:
        name = name.replace(sign, other)
    return name
