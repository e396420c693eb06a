"""
Words of enumerations, as people read them.

The English word is the member's value, which rows, files and the API keep, but for the
few of which people say something else; in another language it is looked up by that.
"""

from collections.abc import Iterable
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext, gettext_lazy, gettext_noop

#: What people say of a member, where it is not what is kept of it.
_SAID_OF: Final = MappingProxyType(
    {
        "on block": gettext_noop("on the block"),
        # What happened to a part, told afterwards.
        "receive": gettext_noop("received"),
        "reserve": gettext_noop("reserved"),
        "release": gettext_noop("released"),
        "hand out": gettext_noop("handed out"),
        "fit": gettext_noop("fitted"),
        "swap": gettext_noop("swapped"),
        "take off": gettext_noop("taken off"),
        "take back": gettext_noop("taken back"),
        "retire": gettext_noop("retired"),
        "restore": gettext_noop("restored"),
        "split": gettext_noop("split"),
    }
)


def word_of(member: StrEnum | str) -> str:
    """
    Give the word of an enumeration in the reader's language.

    Parameters
    ----------
    member : StrEnum or str
        The member, or its value.

    Returns
    -------
    str
        As it stands in the middle of a sentence.
    """
    return gettext(_english(str(member))) if member else ""


def word_choices(members: Iterable[StrEnum]) -> list[tuple[str, str | Promise]]:
    """
    Offer members of an enumeration in a form.

    Parameters
    ----------
    members : iterable of StrEnum
        In the order to show them.

    Returns
    -------
    list of tuple of str and Promise
        The value that is sent, and the word that is read.
    """
    return [(member.value, gettext_lazy(_english(member.value))) for member in members]


def _english(value: str) -> str:
    return _SAID_OF.get(value, value)
