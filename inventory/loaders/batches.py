"""Batches as bags for the pairing, and what of a table is in stock already."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from inventory.compute.batches import BatchEstimate, BatchRow
from inventory.compute.measuring import GaugeMode, Instrument
from inventory.compute.numbers import MILLION, Unit, from_millionths
from inventory.compute.pairing import Bag, Feature, GroupBy
from inventory.compute.stock import PartKind, PartQuantity, PartState
from inventory.loaders.exported import Readings, current_readings
from inventory.models import (
    Batch,
    BatchPart,
    Pairing,
    Part,
    PartEstimate,
    SetMember,
)
from inventory.words.enumerations import word_of

_FEATURE_OF = {
    PartQuantity.TYRE_WIDTH: Feature.WIDTH,
    PartQuantity.OUT_OF_ROUND: Feature.OUT_OF_ROUND,
    PartQuantity.TAPER: Feature.TAPER,
    PartQuantity.TYRE_HARDNESS: Feature.HARDNESS,
}
#: The gauges that a tyre's diameter is read with.
OF_TYRES: Final[Mapping[str, object]] = {
    "unit": Unit.MILLIMETRE,
    "mode": GaugeMode.OUTSIDE,
    "gauge__instrument__in": [Instrument.CALIPER, Instrument.MICROMETER],
}
#: As many names as one statement may ask for, on either database.
_AT_ONCE = 500


@dataclass(frozen=True, kw_only=True)
class LoadedBag:
    """Tyres that may be paired, and who they are; a column of each a measure."""

    bag: Bag
    part_ids: list[int]
    tags: list[str]
    names: list[str]
    drawers: list[str]

    def __len__(self) -> int:
        return len(self.part_ids)


@dataclass(frozen=True, kw_only=True)
class BatchCounts:
    """Where the parts of a batch are."""

    in_all: int
    in_sets: int
    away: int


class Standing(StrEnum):
    """What a row of a table is to the stock."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    WRONG = "wrong"


@dataclass(frozen=True, kw_only=True)
class StockStanding:
    """A row's part in stock, if there is one, and what it is to it."""

    standing: Standing
    part_id: int | None = None
    sentence: str = ""


def loose_parts(batch: Batch | None, kind: PartKind) -> QuerySet[Part]:
    """Find the parts that lie in stock and belong to no set, of a batch or of all."""
    together = SetMember.objects.filter(ended_at=None).values("part")
    parts = Part.objects.filter(kind=kind, state=PartState.IN_STOCK)
    if batch is not None:
        parts = parts.filter(batches__batch=batch)
    return parts.exclude(pk__in=together)


def load_bag(batch: Batch | None) -> LoadedBag:
    """Load the loose tyres of a batch, or of the whole stock, in two queries."""
    parts = loose_parts(batch, PartKind.TYRE)
    order = ("batches__position", "pk") if batch is not None else ("pk",)
    rows = parts.order_by(*order).values_list(
        "pk",
        "tag",
        "name",
        "drawer",
        "tyre__compound",
        "tyre__width_code",
        "tyre__wheel",
    )
    estimates = _current(parts, [PartQuantity.TYRE_DIAMETER, *_FEATURE_OF])
    known = [row for row in rows if (row[0], PartQuantity.TYRE_DIAMETER) in estimates]
    return LoadedBag(
        bag=_bag(known, estimates),
        part_ids=[row[0] for row in known],
        tags=[row[1] for row in known],
        names=[row[2] for row in known],
        drawers=[row[3] for row in known],
    )


def parts_of(batch: Batch | None) -> QuerySet[Part]:
    """Find the tyres of a batch, wherever they are, or all loose ones."""
    if batch is None:
        return loose_parts(None, PartKind.TYRE)
    return Part.objects.filter(batches__batch=batch)


def batches_with_counts() -> QuerySet[Batch]:
    """List the batches, each with how many parts it has and how many are loose."""
    members = BatchPart.objects.filter(batch=OuterRef("pk")).order_by()
    together = SetMember.objects.filter(ended_at=None).values("part")
    loose = members.filter(part__state=PartState.IN_STOCK).exclude(part__in=together)
    return Batch.objects.select_related("by").annotate(
        part_count=_count(members), loose_count=_count(loose)
    )


def count_batch(batch: Batch) -> BatchCounts:
    """Count a batch's parts: all, those in a set, those away or retired."""
    together = SetMember.objects.filter(ended_at=None).values("part")
    counts = batch.members.aggregate(
        in_all=Count("pk"),
        in_sets=Count("pk", filter=Q(part__in=together)),
        away=Count(
            "pk", filter=~Q(part__in=together) & ~Q(part__state=PartState.IN_STOCK)
        ),
    )
    return BatchCounts(**counts)


def pairings_of(batch: Batch | None) -> QuerySet[Pairing]:
    """List what was confirmed of a batch, or of all loose tyres, and stands."""
    return Pairing.objects.filter(batch=batch, undone_at=None).annotate(
        set_count=Count("sets")
    )


def tags_in_stock(tags: Sequence[str]) -> set[str]:
    """Find which of these tags parts have."""
    return {
        tag
        for some in _some(tags)
        for tag in Part.objects.filter(tag__in=some).values_list("tag", flat=True)
    }


def standings_of(
    rows: Sequence[BatchRow], estimates: Iterable[BatchEstimate], kind: PartKind
) -> list[StockStanding]:
    """Say of each row of a table what it is to the stock, by its tag."""
    tags = [row.tag for row in rows if row.tag]
    parts: dict[str, tuple[int, str, str]] = {}
    current: dict[tuple[int, str], tuple[int, int]] = {}
    for some in _some(tags):
        stocked = Part.objects.filter(tag__in=some)
        parts |= {
            tag: (pk, its_kind, state)
            for pk, tag, its_kind, state in stocked.values_list(
                "pk", "tag", "kind", "state"
            )
        }
        current |= {
            (pk, quantity): (value, count)
            for pk, quantity, value, count in PartEstimate.objects.current()
            .filter(part__tag__in=some)
            .values_list("part", "quantity", "value", "count")
        }
    estimates_of_row: dict[int, list[BatchEstimate]] = {}
    for one in estimates if parts else ():
        estimates_of_row.setdefault(one.row, []).append(one)
    readings = current_readings([pk for pk, *_ in parts.values()])
    return [
        _standing(
            parts.get(row.tag),
            kind,
            is_same=row.tag in parts
            and _says_the_same(
                row,
                estimates_of_row.get(place, ()),
                readings,
                current,
                parts[row.tag][0],
            ),
        )
        for place, row in enumerate(rows)
    ]


def _says_the_same(
    row: BatchRow,
    estimates: Iterable[BatchEstimate],
    readings: Mapping[int, Readings],
    current: Mapping[tuple[int, str], tuple[int, int]],
    pk: int,
) -> bool:
    """
    Tell whether what a row says is known of its part.

    By the readings themselves, or by what they make.  A form that is worked out of
    the diameters says nothing that they do not say.
    """
    read: Readings = {}
    for one in row.readings:
        read.setdefault((one.quantity, one.section), []).append(one.millionths)
    known = readings.get(pk, {})
    if all(sorted(known.get(key, ())) == sorted(read[key]) for key in read):
        return True
    quantities = {quantity for quantity, _ in read}
    return all(
        current.get((pk, one.quantity)) == (one.value, one.count)
        for one in estimates
        if one.quantity in quantities
    )


def _standing(
    part: tuple[int, str, str] | None, kind: PartKind, *, is_same: bool
) -> StockStanding:
    if part is None:
        return StockStanding(standing=Standing.NEW)
    pk, its_kind, state = part
    if its_kind != kind:
        text = _("this tag is on a %(kind)s in stock.") % {"kind": word_of(its_kind)}
        return StockStanding(standing=Standing.WRONG, part_id=pk, sentence=text)
    if state == PartState.RETIRED and not is_same:
        text = _("the part with this tag is retired.")
        return StockStanding(standing=Standing.WRONG, part_id=pk, sentence=text)
    standing = Standing.SAME if is_same else Standing.CHANGED
    return StockStanding(standing=standing, part_id=pk)


def _count(rows: QuerySet[BatchPart]) -> Coalesce:
    counted = rows.values("batch").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(counted), 0)


def _current(
    parts: QuerySet[Part], quantities: Sequence[PartQuantity]
) -> dict[tuple[int, str], tuple[int, int, int]]:
    rows = (
        PartEstimate.objects.current()
        .filter(part__in=parts.order_by().values("pk"), quantity__in=quantities)
        .values_list("part", "quantity", "value", "random", "count")
    )
    return {(pk, quantity): tuple(rest) for pk, quantity, *rest in rows}  # type: ignore[misc]


def _bag(
    rows: Sequence[tuple[int, str, str, str, str, str, str]],
    estimates: Mapping[tuple[int, str], tuple[int, int, int]],
) -> Bag:
    diameters = [estimates[row[0], PartQuantity.TYRE_DIAMETER] for row in rows]
    table = np.array(diameters, dtype=np.float64).reshape(-1, 3)
    features = {
        feature: np.array(
            [
                from_millionths(estimates[key][0])
                if (key := (row[0], quantity)) in estimates
                else np.nan
                for row in rows
            ],
            dtype=np.float64,
        )
        for quantity, feature in _FEATURE_OF.items()
    }
    words = zip(GroupBy, (4, 5, 6), strict=True)
    return Bag(
        diameter_mm=table[:, 0] / MILLION,
        random_mm=table[:, 1] / MILLION,
        reading_count=table[:, 2].astype(np.int64),
        features=features,
        words={word: [row[column] for row in rows] for word, column in words},  # type: ignore[misc]
    )


def _some(names: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(names), _AT_ONCE):
        yield names[start : start + _AT_ONCE]
