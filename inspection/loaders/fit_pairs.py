"""Tyres of the inventory as pairs that could go on an axle."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
from django.db.models import QuerySet
from numpy.typing import NDArray

from inspection.compute.fit import Pairs
from inspection.loaders.fit_parts import Floats, Ints, PartColumns, load_columns
from inspection.loaders.values import GaugeKey
from inventory.compute.stock import PartKind, PartQuantity
from inventory.models import Part, SetMember

Rows: TypeAlias = NDArray[np.intp]

#: Loose tyres further apart than this are no pair; common practice, no source.
WIDEST_PAIR_MM: Final = 0.10


@dataclass(frozen=True, kw_only=True, eq=False)
class TyrePairs:
    """Pairs as a table, and which parts go left and right."""

    table: Pairs
    left: Ints
    right: Ints


def load_pairs(
    parts: QuerySet[Part], *, gauges: Mapping[GaugeKey, int] | None = None
) -> TyrePairs:
    """
    Load the pairs that tyres make: those in one bag, else neighbours in size.

    Of loose tyres each two next to each other among their like make one, so a tyre
    may stand in two pairs.  Two queries.
    """
    tyres = load_columns(parts, PartKind.TYRE, gauges=gauges)
    bags = _bags(tyres)
    pairs = [
        _smaller_first(tyres, bag) for bag in bags if len(bag) == 2 and min(bag) >= 0
    ]
    # The last place is for the -1 of a tyre that is not to be had.
    loose = np.ones(len(tyres) + 1, dtype=np.bool_)
    loose[[row for bag in bags for row in bag]] = False
    found = [*pairs, *_neighbours(tyres, loose[:-1])]
    left, right = np.array(found, dtype=np.intp).reshape(-1, 2).T
    return TyrePairs(
        table=pairs_of(tyres, left, right), left=tyres.pk[left], right=tyres.pk[right]
    )


def pairs_of(tyres: PartColumns, left: Rows, right: Rows) -> Pairs:
    """Write pairs of tyres as a table; of what differs, the worse counts."""
    size, doubt = tyres.sizes, tyres.doubt

    def greater(quantity: PartQuantity) -> Floats:
        return np.maximum(size[quantity][left], size[quantity][right])

    taper = size[PartQuantity.TAPER]
    return Pairs(
        left_diameter_mm=size[PartQuantity.TYRE_DIAMETER][left],
        right_diameter_mm=size[PartQuantity.TYRE_DIAMETER][right],
        width_mm=greater(PartQuantity.TYRE_WIDTH),
        bore_mm=greater(PartQuantity.BORE),
        hardness=greater(PartQuantity.TYRE_HARDNESS),
        out_of_round_mm=greater(PartQuantity.OUT_OF_ROUND),
        taper_mm=np.where(
            abs(taper[left]) < abs(taper[right]), taper[right], taper[left]
        ),
        random_mm=np.maximum(doubt.random_mm[left], doubt.random_mm[right]),
        systematic_mm=np.maximum(doubt.systematic_mm[left], doubt.systematic_mm[right]),
        gauge=doubt.gauge[left],
        mass_g=size[PartQuantity.MASS][left] + size[PartQuantity.MASS][right],
    )


def _bags(tyres: PartColumns) -> list[list[int]]:
    """Give the rows of tyres that share a bag; -1 for one that is not to be had."""
    row = {int(pk): at for at, pk in enumerate(tyres.pk)}
    bags: dict[int, list[int]] = defaultdict(list)
    members = SetMember.objects.filter(
        ended_at=None, part__kind=PartKind.TYRE, part_set__ended_at=None
    ).order_by("part_set", "position")
    for bag, part in members.values_list("part_set", "part"):
        bags[bag].append(row.get(part, -1))
    return list(bags.values())


def _smaller_first(tyres: PartColumns, rows: list[int]) -> tuple[int, int]:
    diameter = tyres.sizes[PartQuantity.TYRE_DIAMETER]
    first, second = sorted(rows, key=lambda at: float(diameter[at]))
    return first, second


def _neighbours(
    tyres: PartColumns, loose: NDArray[np.bool_]
) -> Iterator[tuple[int, int]]:
    diameter = tyres.sizes[PartQuantity.TYRE_DIAMETER]
    like: dict[tuple[str, ...], list[int]] = defaultdict(list)
    facts = list(zip(*tyres.facts.values(), strict=True))
    for at in np.flatnonzero(loose & ~np.isnan(diameter)).tolist():
        like[facts[at]].append(at)
    for rows in like.values():
        order = sorted(rows, key=lambda at: float(diameter[at]))
        for first, second in pairwise(order):
            apart = round(float(diameter[second] - diameter[first]), 6)
            if apart <= WIDEST_PAIR_MM:
                yield first, second
