"""The words of batches and pairs: how one came in, and how a pair ended."""

from enum import StrEnum


class BatchSource(StrEnum):
    """How the readings of a batch came in."""

    FILE = "file"
    PASTED = "pasted"
    CALIPER = "caliper"


class DraftState(StrEnum):
    """How far the reading of a file is."""

    WAITING = "waiting"
    READING = "reading"
    READ = "read"
    REFUSED = "refused"


class SetEnd(StrEnum):
    """Why parts no longer belong together."""

    UNDONE = "undone"
    SPLIT = "split"
