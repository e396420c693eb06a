"""
Hash chains: SHA-256 of the hash before and of the content's own hash.

From the contents' hashes alone the whole chain can be worked out, so one link proves
its place without what the others say.  A changed, removed or exchanged link shows,
because every later hash rests on it; a cut tail shows against any later hash that was
printed.
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
    Hash a link's content onto the link before: the two hashes, a line each.

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
    '04d9f8ba03e23794'
    """
    return linked_hash(previous_sha256, text_hash(content))


def linked_hash(previous_sha256: str, content_sha256: str) -> str:
    """
    Hash a content's hash onto the link before.

    Parameters
    ----------
    previous_sha256, content_sha256 : str
        In hexadecimal; the first empty for the first link.

    Returns
    -------
    str
        SHA-256 in hexadecimal.

    Examples
    --------
    >>> linked_hash("", "")[:16]
    '01ba4719c80b6fe9'
    """
    return text_hash(f"{previous_sha256}\n{content_sha256}")


def text_hash(text: str) -> str:
    """
    Hash a text, as UTF-8, by SHA-256 (FIPS 180-4; the example is its own).

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        SHA-256 in hexadecimal.

    Examples
    --------
    >>> text_hash("abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(text.encode()).hexdigest()


def link_holds(link: Link) -> bool:
    """
    Tell whether a link's hash is that of its content and of the hash before.

    The first seals hashed the content itself, not its hash.

    Parameters
    ----------
    link : Link
        One link.

    Returns
    -------
    bool
        Whether it holds; that the link before has that hash is not looked at.

    Examples
    --------
    >>> first = Link(content="a", previous_sha256="", sha256=chained_hash("", "a"))
    >>> link_holds(first)
    True
    """
    return link.sha256 in {
        chained_hash(link.previous_sha256, link.content),
        text_hash(f"{link.previous_sha256}\n{link.content}"),
    }


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

    Examples
    --------
    >>> one = Link(content="a", previous_sha256="", sha256=chained_hash("", "a"))
    >>> two = Link(content="b", previous_sha256="", sha256=chained_hash("", "b"))
    >>> first_broken([one]), first_broken([one, two])
    (None, 1)
    """
    previous = ""
    for position, link in enumerate(links):
        if link.previous_sha256 != previous or not link_holds(link):
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

    Examples
    --------
    >>> name_hash("a", "bc") == text_hash("abc")
    True
    """
    return text_hash(salt + name)
