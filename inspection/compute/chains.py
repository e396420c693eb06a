"""
Hash chains: SHA-256 of the hash before and of the content.

A changed, removed or exchanged link shows, because every later hash rests on
it; a cut tail shows against any later hash that was printed.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Link:
    """One link as it is stored."""

    content: str
    previous_sha256: str
    sha256: str


def chained_hash(previous_sha256: str, content: str) -> str:
    """
    Hash a link's content onto the link before.

    Parameters
    ----------
    previous_sha256 : str
        Hexadecimal hash of the link before; empty for the first.
    content : str
        What the link says.

    Returns
    -------
    str
        SHA-256 in hexadecimal.

    Examples
    --------
    >>> chained_hash("", "")[:16]
    '01ba4719c80b6fe9'
    """
    return hashlib.sha256(f"{previous_sha256}\n{content}".encode()).hexdigest()


def first_broken(links: Iterable[Link]) -> int | None:
    """
    Find the first link that does not hold.

    Parameters
    ----------
    links : iterable of Link
        In order, from the first.

    Returns
    -------
    int or None
        Its position; None when all hold.
    """
    previous = ""
    for position, link in enumerate(links):
        wanted = chained_hash(link.previous_sha256, link.content)
        if link.previous_sha256 != previous or link.sha256 != wanted:
            return position
        previous = link.sha256
    return None


def name_hash(salt: str, name: str) -> str:
    """
    Hash a person's name, so that a seal holds it without saying it.

    Parameters
    ----------
    salt, name : str
        Both are overwritten when the person is erased.

    Returns
    -------
    str
        SHA-256 in hexadecimal.
    """
    return hashlib.sha256((salt + name).encode()).hexdigest()
