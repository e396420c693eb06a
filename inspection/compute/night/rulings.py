"""What a chief may rule of a sealed sheet that has come into question."""

from enum import StrEnum


class Ruling(StrEnum):
    """The answer to one question about one sealed sheet."""

    STANDS = "stands"
    VOID = "void"
    AGAIN = "measure again"
