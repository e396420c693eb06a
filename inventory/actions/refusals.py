"""How an action refuses: a code, the field concerned and a sentence."""

from inventory.compute.errors import ComputeError


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
        text = str(error)
        # Some are written for a programmer: without a capital and a full stop.
        sentence = text if text.endswith(".") else f"{text[:1].upper()}{text[1:]}."
        return cls(code=error.code, sentence=sentence, field=field)
