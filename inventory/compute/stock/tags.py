"""
Tags: short codes for labels, sheets and people to type.

A tag is a prefix letter, a number written in 32 signs without 0, O, 1 and I,
and a check sign.  The check is a weighted sum modulo 31 over a 31-sign
alphabet (31 is prime), which catches every single slip and every swap of two
neighbours.
"""

from typing import Final

from inventory.compute.errors import ComputeError

#: 31 signs: digits and capitals without 0, O, 1, I and L.
ALPHABET: Final = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_BASE: Final = len(ALPHABET)


class NotATagError(ComputeError):
    """The text cannot be a tag: a sign is strange or the check is wrong."""

    code = "not_a_tag"


def check_sign(body: str) -> str:
    """
    Give the check sign of a tag's body.

    Parameters
    ----------
    body : str
        Signs of the alphabet, at most 30.

    Returns
    -------
    str
        One sign.

    Raises
    ------
    NotATagError
        If a sign is not of the alphabet.
    """
    total = 0
    for place, sign in enumerate(body, start=2):
        value = ALPHABET.find(sign)
        if value < 0:
            msg = f"“{sign}” in “{body}” is not a sign of a tag."
            raise NotATagError(msg)
        total += place * value
    return ALPHABET[-total % _BASE]


def make_tag(prefix: str, number: int, *, width: int = 4) -> str:
    """
    Write a number as a tag.

    Parameters
    ----------
    prefix : str
        One letter of the alphabet: the kind of thing.
    number : int
        Not negative.
    width : int
        Least count of signs of the number.

    Returns
    -------
    str
        Prefix, number, check sign.

    Raises
    ------
    NotATagError
        If the number is negative or the prefix strange.

    Examples
    --------
    >>> make_tag("T", 0)
    'T2222G'
    """
    if number < 0:
        msg = f"A tag's number is not negative; {number} is."
        raise NotATagError(msg)
    signs = ""
    while number or len(signs) < width:
        number, rest = divmod(number, _BASE)
        signs = ALPHABET[rest] + signs
    body = prefix + signs
    return body + check_sign(body)


def read_tag(text: str) -> str:
    """
    Read a typed or scanned tag.

    Parameters
    ----------
    text : str
        Any case, blanks and hyphens ignored.

    Returns
    -------
    str
        The tag as printed.

    Raises
    ------
    NotATagError
        If the check sign does not fit: a slip or a swap.

    Examples
    --------
    >>> read_tag(" t2222-g")
    'T2222G'
    """
    tag = "".join(text.split()).replace("-", "").upper()
    if len(tag) < 3 or check_sign(tag[:-1]) != tag[-1]:
        msg = f"“{text}” is not a tag: a sign is wrong or two are swapped."
        raise NotATagError(msg)
    return tag


def tag_in(text: str) -> str:
    """
    Read a tag as it is typed or scanned: alone, or as the end of a label's address.

    Parameters
    ----------
    text : str
        What a person or a scanner typed.

    Returns
    -------
    str
        The tag as printed; where there is none, the words themselves.

    Examples
    --------
    >>> tag_in("http://club.example/parts/t2222g"), tag_in("box 3/4")
    ('T2222G', 'box 3/4')
    """
    words = text.strip()
    if "://" in words or words.startswith("/"):
        words = words.rstrip("/").rpartition("/")[2]
    try:
        return read_tag(words)
    except NotATagError:
        return words
