"""Which of the older backups are kept; the numbers are common practice, no source."""

import datetime as dt
from collections.abc import Callable, Iterable
from itertools import islice
from typing import Final

from deploy.keeping.manifest import Why

NEWEST_KEPT: Final = 12
UPGRADES_KEPT: Final = 3
DAYS_KEPT: Final = 14
MONTHS_KEPT: Final = 12

Made = tuple[dt.datetime, Why]


def kept(made: Iterable[Made]) -> set[Made]:
    """
    Return those that stay.

    The newest twelve, which is the last hour of a night; the newest three from before
    an upgrade; the newest of each of the last fourteen days and twelve months on
    which one was made.
    """
    newest_first = sorted(made, reverse=True)
    upgrades = (one for one in newest_first if one[1] is Why.UPGRADE)
    return {
        *newest_first[:NEWEST_KEPT],
        *islice(upgrades, UPGRADES_KEPT),
        *newest_of_each(newest_first, lambda at: at.date(), most=DAYS_KEPT),
        *newest_of_each(newest_first, lambda at: (at.year, at.month), most=MONTHS_KEPT),
    }


def newest_of_each(
    newest_first: Iterable[Made], of: Callable[[dt.datetime], object], *, most: int
) -> list[Made]:
    newest: dict[object, Made] = {}
    for one in newest_first:
        newest.setdefault(of(one[0]), one)
    return list(islice(newest.values(), most))
