"""Batches as bags for the pairing, and what of a table is in stock already."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from inventory.compute.bag import Bag, Feature, GroupBy
from inventory.compute.batch_estimates import BatchEstimate
from inventory.compute.batch_rows import BatchRow
from inventory.compute.gauges import GaugeMode
from inventory.compute.instruments import Instrument
from inventory.compute.stock import PartKind, PartQuantity, PartState, Section
from inventory.compute.units import Unit
from inventory.models import (
    Batch,
    BatchPart,
    Pairing,
    Part,
    PartEstimate,
    PartReading,
    SetMember,
)

_MILLION = 1e6
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


@dataclass(frozen=True, kw_only=True)
class MeasuredTyre:
    """A tyre of a batch with the readings of its current estimates, as millionths."""

    tag: str
    name: str
    drawer: str
    words: tuple[str, str, str]
    readings: dict[tuple[PartQuantity, Section], list[int]]


def load_measured(batch: Batch | None) -> list[MeasuredTyre]:
    """Load the tyres of a batch, or all loose ones, with readings, in two queries."""
    parts = (
        loose_parts(None, PartKind.TYRE)
        if batch is None
        else Part.objects.filter(batches__batch=batch)
    )
    order = ("pk",) if batch is None else ("batches__position", "pk")
    readings: dict[int, dict[tuple[PartQuantity, Section], list[int]]] = {}
    rows = (
        PartReading.objects.filter(
            estimate__part__in=parts.order_by().values("pk"),
            estimate__superseded_at=None,
        )
        .order_by("pk")
        .values_list("estimate__part", "estimate__quantity", "section", "value")
    )
    for part, quantity, section, value in rows:
        key = PartQuantity(quantity), Section(section)
        readings.setdefault(part, {}).setdefault(key, []).append(value)
    said = ("tyre__compound", "tyre__width_code", "tyre__wheel")
    return [
        MeasuredTyre(
            tag=tag,
            name=name,
            drawer=drawer,
            words=(compound, width_code, wheel),
            readings=readings.get(pk, {}),
        )
        for pk, tag, name, drawer, compound, width_code, wheel in parts.order_by(
            *order
        ).values_list("pk", "tag", "name", "drawer", *said)
    ]


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


def standings_of(
    rows: Sequence[BatchRow], estimates: Iterable[BatchEstimate], kind: PartKind
) -> list[StockStanding]:
    """Say of each row of a table what it is to the stock, by its tag."""
    tags = [row.tag for row in rows if row.tag]
    parts: dict[str, tuple[int, str, str]] = {}
    current: dict[tuple[int, str], tuple[int, int]] = {}
    for some in _some(tags):
        found = Part.objects.filter(tag__in=some)
        parts |= {
            tag: (pk, its_kind, state)
            for pk, tag, its_kind, state in found.values_list(
                "pk", "tag", "kind", "state"
            )
        }
        current |= {
            (pk, quantity): (value, count)
            for pk, quantity, value, count in PartEstimate.objects.current()
            .filter(part__tag__in=some)
            .values_list("part", "quantity", "value", "count")
        }
    said: dict[int, list[BatchEstimate]] = {}
    for one in estimates if parts else ():
        said.setdefault(one.row, []).append(one)
    return [
        _standing(parts.get(row.tag), said.get(place, []), current, kind)
        for place, row in enumerate(rows)
    ]


def _standing(
    part: tuple[int, str, str] | None,
    said: Sequence[BatchEstimate],
    current: Mapping[tuple[int, str], tuple[int, int]],
    kind: PartKind,
) -> StockStanding:
    if part is None:
        return StockStanding(standing=Standing.NEW)
    pk, its_kind, state = part
    if its_kind != kind:
        text = f"this tag is on a {its_kind} in stock."
        return StockStanding(standing=Standing.WRONG, part_id=pk, sentence=text)
    if state == PartState.RETIRED:
        text = "the part with this tag is retired."
        return StockStanding(standing=Standing.WRONG, part_id=pk, sentence=text)
    is_same = all(
        current.get((pk, one.quantity)) == (one.value, one.count) for one in said
    )
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
                estimates[key][0] / _MILLION
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
        diameter_mm=table[:, 0] / _MILLION,
        random_mm=table[:, 1] / _MILLION,
        reading_count=table[:, 2].astype(np.int64),
        features=features,
        words={word: [row[column] for row in rows] for word, column in words},  # type: ignore[misc]
    )


def _some(names: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(names), _AT_ONCE):
        yield names[start : start + _AT_ONCE]
