"""Drawers: what lies in them, and how they were counted."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Count, Max, QuerySet

from inventory.compute.searches import words_of
from inventory.compute.stock import Counted, PartState
from inventory.models import Part, Stocktake

#: What is to lie in the drawer that the stock says.
_LIES: tuple[str, ...] = (PartState.IN_STOCK, PartState.RESERVED)


@dataclass(frozen=True, kw_only=True)
class Drawer:
    """A drawer: how many parts lie in it, are away from it, and when it was counted."""

    name: str
    lies: int
    away: int
    counted_at: dt.datetime | None
    open_id: int | None


def load_drawers(words: str = "") -> list[Drawer]:
    """List the drawers that parts are of, by all of the words, in three queries."""
    parts = Part.objects.of_the_club().not_retired().exclude(drawer="")
    for word in words_of(words):
        parts = parts.filter(drawer__icontains=word)
    by_state: dict[str, dict[str, int]] = {}
    counted = parts.order_by("drawer").values_list("drawer", "state")
    for name, state, count in counted.annotate(n=Count("pk")):
        by_state.setdefault(name, {})[state] = count
    takes = Stocktake.objects.order_by()
    last: Mapping[str, dt.datetime] = dict(
        takes.exclude(closed_at=None)
        .values_list("drawer")
        .annotate(at=Max("closed_at"))
    )
    now: Mapping[str, int] = dict(
        takes.filter(closed_at=None).values_list("drawer", "pk")
    )
    return [
        Drawer(
            name=name,
            lies=sum(counts.get(state, 0) for state in _LIES),
            away=sum(n for state, n in counts.items() if state not in _LIES),
            counted_at=last.get(name),
            open_id=now.get(name),
        )
        for name, counts in by_state.items()
    ]


def expected_in(drawer: str) -> QuerySet[Part]:
    """Find the parts that are to lie in a drawer."""
    parts = Part.objects.of_the_club().filter(drawer=drawer, state__in=_LIES)
    return parts.order_by("tag")


def count_lines(stocktake: Stocktake) -> dict[str, int]:
    """Count what a closed stocktake found, missed and had too many."""
    rows = stocktake.lines.order_by().values_list("counted").annotate(n=Count("pk"))
    counts = dict(rows)
    return {word.value: counts.get(word.value, 0) for word in Counted}
