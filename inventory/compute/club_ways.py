"""The ways a club may choose: what members see, and how figures are written."""

from enum import StrEnum


class MembersSee(StrEnum):
    """Which sealed sheets a member may open."""

    OWN = "their own"
    ALL = "every sealed sheet"


class LengthShown(StrEnum):
    """The unit of lengths in the figures of a page."""

    MILLIMETRE = "mm"
    INCH = "in"


class DecimalSign(StrEnum):
    """What stands between whole and fraction in the figures of a page."""

    POINT = "."
    COMMA = ","
