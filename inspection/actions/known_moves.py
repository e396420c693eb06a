"""Moves that a race night does not know, refused."""

from inspection.compute.night import EntryState, MoveRefusedError, check_move
from inspection.words.moves import move_refused_words
from inventory.actions.refusals import RefusedError


def refuse_unknown_move(start: EntryState, end: EntryState) -> None:
    """Refuse a move that a race night does not know; part of an action."""
    try:
        check_move(start, end)
    except MoveRefusedError as refusal:
        says = move_refused_words(refusal)
        raise RefusedError(code=refusal.code, sentence=says) from refusal
