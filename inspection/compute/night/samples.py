"""
The cars that are checked after the race: drawn, and anyone can check the draw.

The hash of the seed is shown before the race, the seed itself after it, so that
nobody chose it to suit.  What a shell repeats: ``printf %s SEED | sha256sum`` gives
the hash, ``printf %s 'SEED/NAME' | sha256sum`` the place of a car; the first places
are drawn.
"""

from collections.abc import Iterable
from hashlib import sha256


def seed_hash(seed: str) -> str:
    """
    Hash a seed, to be shown before the race.

    Parameters
    ----------
    seed : str
        Kept to oneself until then.

    Returns
    -------
    str
        SHA-256 in hexadecimal.

    Examples
    --------
    >>> seed_hash("abc")[:16]
    'ba7816bf8f01cfea'
    """
    return sha256(seed.encode()).hexdigest()


def drawn_names(seed: str, names: Iterable[str], *, count: int) -> tuple[str, ...]:
    """
    Draw some names.

    The order in which they are given does not matter.

    Parameters
    ----------
    seed : str
        The seed whose hash was shown.
    names : iterable of str
        Each once.
    count : int
        How many; all where there are fewer.

    Returns
    -------
    tuple of str
        In the order drawn.

    Examples
    --------
    >>> drawn_names("6 2 5", ["A/7", "A/12", "B/7"], count=2)
    ('A/7', 'B/7')
    """
    placed = sorted(names, key=lambda name: sha256(f"{seed}/{name}".encode()).digest())
    return tuple(placed[:count])
