"""
What was typed or scanned: words, or an address that a label holds.

A label outlives the address that its hall had when it was printed, so an address is
read by what it leads to and not by where.
"""

from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final
from urllib.parse import parse_qs, unquote, urlsplit

from inventory.compute.errors import ComputeError
from inventory.compute.stock import read_tag


class Thing(StrEnum):
    """What a code on paper is of, by the word of its address."""

    PART = "parts"
    PAIR = "pairs"
    CAR = "cars"
    SHEET = "sheet"


_THINGS: Final = frozenset(Thing)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """
    What is looked for.

    ``host`` is where a scanned address was printed for, empty for what was typed;
    ``drawer`` is a drawer's label.  An address that is of nothing here has no words.
    """

    words: str
    host: str = ""
    drawer: bool = False

    @property
    def is_scanned(self) -> bool:
        return bool(self.host)


def read_asked(text: str) -> Asked:
    """Read what came into the box."""
    text = " ".join(text.split())
    if "://" not in text:
        # A car is written with a dot before its tag.
        return Asked(words=" ".join(text.replace("·", " ").split()))
    try:
        address = urlsplit(text)
    except ValueError:
        return Asked(words=text)
    host = address.netloc.rpartition("@")[2].lower()
    if not host:
        return Asked(words=text)
    steps = [unquote(step) for step in address.path.split("/") if step]
    for thing, what in pairwise(steps):
        if thing.lower() in _THINGS:
            return Asked(words=what, host=host)
    drawer = parse_qs(address.query).get("q", [""])[0]
    is_drawer = bool(steps) and steps[-1].lower() == Thing.PART
    return Asked(words=drawer if is_drawer else "", host=host, drawer=is_drawer)


def tags_meant(text: str) -> frozenset[str]:
    """Give the tags that a text may be, as they were made or as a club has them."""
    tags = {text, text.upper()}
    with suppress(ComputeError):
        tags.add(read_tag(text))
    return frozenset(tags)
