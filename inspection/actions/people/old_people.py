"""Erasing those who do not come any more, as the club has said."""

import datetime as dt
from contextlib import suppress

from inspection.loaders.old_people import due_to_be_erased, is_in_use, months_kept
from inventory.actions.people.erasing import erase_after_time
from inventory.actions.refusals import RefusedError


def erase_old_people(*, at: dt.datetime) -> int:
    """
    Erase whoever is due, each in a transaction, and tell how many there were.

    Writes and audits as ``erase_after_time`` for each.
    """
    return _erase_due(at=at)


def erase_by_itself(*, at: dt.datetime) -> int:
    """
    Do the same with nobody there who looks, where the club is in use.

    Else a clock that runs years ahead would erase everybody, and a club that rested
    for so long all of its members on the day that it comes back.
    """
    return _erase_due(at=at) if is_in_use(at) else 0


def _erase_due(*, at: dt.datetime) -> int:
    months = months_kept()
    count = 0
    for person in list(due_to_be_erased(at, months=months)):
        # Another machine of the club may have come to them first.
        with suppress(RefusedError):
            erase_after_time(person, at=at, months=months)
            count += 1
    return count
