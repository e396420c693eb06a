"""How a car stands to the race director, who starts the race."""

from enum import StrEnum

from inspection.compute.night.entries import EntryState


class Standing(StrEnum):
    """Whether a car may start, in the order of the report."""

    MAY_START = "may start"
    IN_QUESTION = "in question"
    REFUSED = "refused"
    NOT_CHECKED = "not checked yet"
    WITHDRAWN = "withdrawn"


def standing_of(state: EntryState, *, is_in_question: bool) -> Standing:
    """
    Say whether a car may start.

    Parameters
    ----------
    state : EntryState
        Where it stands on the board.
    is_in_question : bool
        A doubt, a protest or a change since it passed, of which nobody has ruled.

    Returns
    -------
    Standing
        What is in question starts when somebody has ruled, whatever it was before.

    Examples
    --------
    >>> standing_of(EntryState.PASSED, is_in_question=False).name
    'MAY_START'
    >>> standing_of(EntryState.PASSED, is_in_question=True).name
    'IN_QUESTION'
    """
    if state is EntryState.WITHDRAWN:
        return Standing.WITHDRAWN
    if state in {EntryState.WAITING, EntryState.ON_BLOCK}:
        return Standing.NOT_CHECKED
    if is_in_question:
        return Standing.IN_QUESTION
    passed = state is EntryState.PASSED
    return Standing.MAY_START if passed else Standing.REFUSED
