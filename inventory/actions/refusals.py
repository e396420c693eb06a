"""How an action refuses: a code, the field concerned and a sentence."""

from collections.abc import Callable
from typing import Final

from django.utils.translation import gettext as _

from inventory.compute.errors import ComputeError
from inventory.words.numbers import error_words

#: A reason that stands in the record is a sentence, not a word.
LEAST_REASON: Final = 10


class RefusedError(Exception):
    """
    An action will not do what was asked; nothing was written.

    Parameters
    ----------
    code : str
        Stable word for programs.
    sentence : str
        What was given and what was expected, for people.
    field : str
        The field that the sentence stands beside; empty for the whole.
    """

    def __init__(self, *, code: str, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.code, self.sentence, self.field = code, sentence, field

    @classmethod
    def because(cls, error: ComputeError, *, field: str = "") -> "RefusedError":
        """Turn a refusal of the computing into one of an action."""
        text = error_words(error)
        # Some are written for a programmer: without a capital and a full stop.
        sentence = text if text.endswith(".") else f"{text[:1].upper()}{text[1:]}."
        return cls(code=error.code, sentence=sentence, field=field)


def reason_given(text: str) -> str:
    """
    Give a reason as it goes into the record; part of an action.

    Raises RefusedError where it is too short to be one.
    """
    reason = text.strip()
    if len(reason) < LEAST_REASON:
        raise RefusedError(
            code="reason_missing",
            sentence=_(
                "“%(text)s” is no reason; give one of %(least_reason)s characters or "
                "more."
            )
            % {"text": text, "least_reason": LEAST_REASON},
            field="reason",
        )
    return reason


class Refusals:
    """
    ``with`` it an action is tried; what it refuses is told, and goes no further.

    What stands behind the action in the same block is done where it was not refused.
    """

    def __init__(self, tell: Callable[[RefusedError], None]) -> None:
        self.tell = tell

    def __enter__(self) -> None:
        """Begin to listen."""

    def __exit__(self, _kind: object, error: object, _trace: object) -> bool:
        """Tell of a refusal; everything else is raised on."""
        if not isinstance(error, RefusedError):
            return False
        self.tell(error)
        return True
