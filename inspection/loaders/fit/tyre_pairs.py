"""Tyres of the inventory as pairs that could go on an axle."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
from django.db.models import QuerySet
from numpy.typing import NDArray

from inspection.compute.what_if import Doubt, Pairs
from inspection.loaders.block.values import GaugeKey
from inspection.loaders.fit.parts import (
    PartColumns,
    load_columns,
)
from inventory.compute.arrays import Floats, Ints
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
    parts: QuerySet[Part], *, gauges: dict[GaugeKey, int] | None = None
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
    couples = [*pairs, *_neighbours(tyres, loose[:-1])]
    left, right = np.array(couples, dtype=np.intp).reshape(-1, 2).T
    return TyrePairs(
        table=pairs_of(tyres, left, right), left=tyres.pk[left], right=tyres.pk[right]
    )


def pairs_of(tyres: PartColumns, left: Rows, right: Rows) -> Pairs:
    """
    Write pairs of tyres as a table.

    Of what differs the worse counts, with the doubt of the tyre that it is from; but
    the hardness is the left one's, as it is on a car that they are fitted to.
    """
    size = tyres.sizes
    none = Doubt.none(len(tyres))

    def doubt(quantity: PartQuantity, rows: Rows) -> Doubt:
        return tyres.doubts.get(quantity, none).take(rows)

    def greater(quantity: PartQuantity) -> Rows:
        extent = abs(size[quantity])
        return np.where(extent[left] < extent[right], right, left)

    diameter, hardness = PartQuantity.TYRE_DIAMETER, PartQuantity.TYRE_HARDNESS
    wider, rounder, tapered = (
        greater(quantity)
        for quantity in (
            PartQuantity.TYRE_WIDTH,
            PartQuantity.OUT_OF_ROUND,
            PartQuantity.TAPER,
        )
    )
    looser = greater(PartQuantity.BORE)
    return Pairs(
        left_diameter_mm=size[diameter][left],
        right_diameter_mm=size[diameter][right],
        width_mm=_of_both(size[PartQuantity.TYRE_WIDTH], wider, left, right),
        bore_mm=_of_both(size[PartQuantity.BORE], looser, left, right),
        hardness=size[hardness][left],
        out_of_round_mm=_of_both(size[PartQuantity.OUT_OF_ROUND], rounder, left, right),
        taper_mm=_of_both(size[PartQuantity.TAPER], tapered, left, right),
        doubts={
            "left_diameter_mm": doubt(diameter, left),
            "right_diameter_mm": doubt(diameter, right),
            "width_mm": doubt(PartQuantity.TYRE_WIDTH, wider),
            "bore_mm": doubt(PartQuantity.BORE, looser),
            "hardness": doubt(hardness, left),
            "out_of_round_mm": doubt(PartQuantity.OUT_OF_ROUND, rounder),
            "taper_mm": doubt(PartQuantity.TAPER, tapered),
        },
        mass_g=size[PartQuantity.MASS][left] + size[PartQuantity.MASS][right],
    )


def _of_both(size: Floats, which: Rows, left: Rows, right: Rows) -> Floats:
    # Of a tyre that nobody measured nothing is known.
    known = ~np.isnan(size[left]) & ~np.isnan(size[right])
    return np.where(known, size[which], np.nan)


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
