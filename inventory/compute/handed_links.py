"""Links that are handed to a person: what for, and how long each is good."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class LinkKind(StrEnum):
    """What whoever opens the link may do, once."""

    INVITATION = "invitation"
    PASSWORD = "password"  # noqa: S105  a word for a kind of link


#: Seconds: an invitation may lie a week; a password link is shown in the hall.
GOOD_FOR_S: Final[Mapping[LinkKind, int]] = MappingProxyType(
    {LinkKind.INVITATION: 7 * 24 * 3600, LinkKind.PASSWORD: 10 * 60}
)
