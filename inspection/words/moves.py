"""Why a car does not go from one state of a race night to another, in sentences."""

from django.utils.translation import gettext as _

from inspection.compute.night import MoveRefusedError
from inventory.words.alternatives import one_or_other
from inventory.words.enumerations import word_of


def move_refused_words(refusal: MoveRefusedError) -> str:
    """
    Say which move there is not, and which there are.

    Parameters
    ----------
    refusal : MoveRefusedError
        What computing refused.

    Returns
    -------
    str
        A sentence.
    """
    return _(
        "The car is “%(start)s”, and from there it does not go to “%(end)s”, only to "
        "%(ends)s."
    ) % {
        "start": word_of(refusal.start),
        "end": word_of(refusal.end),
        "ends": one_or_other(f"“{word_of(state)}”" for state in refusal.ends),
    }
