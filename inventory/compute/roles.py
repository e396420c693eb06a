"""The roles that a person may hold in the club."""

from enum import StrEnum


class Role(StrEnum):
    """What a person may do; one person may hold several."""

    MEMBER = "member"
    SCRUTINEER = "scrutineer"
    PARTS_KEEPER = "parts keeper"
    CHIEF_SCRUTINEER = "chief scrutineer"
    ADMIN = "admin"
