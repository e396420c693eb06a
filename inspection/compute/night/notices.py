"""What the chief hangs on the wall."""

from enum import StrEnum


class NoticeKind(StrEnum):
    """Where a notice stands: on the board, or with how the club measures."""

    NOTICE = "notice"
    HOW_WE_MEASURE = "how we measure here"
