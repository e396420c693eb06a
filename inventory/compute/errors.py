"""The root of every refusal that the computing can make."""

from typing import ClassVar


class ComputeError(ValueError):
    """
    What was asked cannot be computed.

    Each reason is a class of its own, in the module that refuses, with a stable
    ``code``; the text is for people and may change.
    """

    code: ClassVar[str] = "cannot_compute"
