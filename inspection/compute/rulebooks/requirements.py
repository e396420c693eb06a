"""The words a rule is written with."""

from enum import StrEnum


class Stage(StrEnum):
    """When a car is on the block, and when a rule is asked."""

    BEFORE = "before"
    AFTER = "after"
    BOTH = "both"


class Evidence(StrEnum):
    """What a rule accepts as its value."""

    EITHER = "either"
    TAKEN_ONLY = "taken only"
    #: Something looked at that is answered in one with the others that say so.
    AT_ONCE = "all at once"


class Force(StrEnum):
    """Whether breaking a rule sends the car back."""

    MANDATORY = "mandatory"
    ADVISORY = "advisory"


class Answer(StrEnum):
    """What a looked-at rule requires or a scrutineer saw."""

    YES = "yes"
    NO = "no"
