"""Rows of parts that would come in, worked out and held against the stock."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from inventory.compute.batches import BatchEstimate, BatchRow, estimates_of_batch
from inventory.compute.gears import diameter_over_tips
from inventory.compute.measuring import UNKNOWN_GAUGE, Estimate, Gauge
from inventory.compute.numbers import Unit, from_millionths, to_millionths
from inventory.compute.stock import KINDS, PART_SCALES, PartKind, PartQuantity
from inventory.loaders.batches import Standing, StockStanding, standings_of
from inventory.loaders.gauges import LoadedGauge, compute_gauge
from inventory.models import Batch, GaugeMode


@dataclass(frozen=True, kw_only=True)
class CheckedRows:
    """Rows that may come in: their estimates, and what each is to the stock."""

    rows: Sequence[BatchRow]
    estimates: Sequence[BatchEstimate]
    standings: Sequence[StockStanding]

    def count(self, standing: Standing) -> int:
        """Count the rows of one standing."""
        return sum(one.standing is standing for one in self.standings)


def check_rows(
    rows: Sequence[BatchRow], *, kind: PartKind, gauge: LoadedGauge | None
) -> CheckedRows:
    """Work out the estimates of rows and look their tags up; writes nothing."""
    estimates = estimates_of(rows, kind, gauge.mode if gauge else None)
    return CheckedRows(
        rows=rows,
        estimates=estimates,
        standings=standings_of(rows, estimates, kind),
    )


def estimates_of(
    rows: Sequence[BatchRow], kind: PartKind, mode: GaugeMode | None
) -> list[BatchEstimate]:
    """Work out what the readings of rows say, read with a gauge in a mode or any."""
    estimates = estimates_of_batch(rows, _gauges(mode))
    if kind is PartKind.GEAR:
        return [_over_the_tips(one, rows[one.row]) for one in estimates]
    return estimates


def _over_the_tips(of_batch: BatchEstimate, row: BatchRow) -> BatchEstimate:
    teeth = row.words.get("teeth")
    if of_batch.quantity is not PartQuantity.GEAR_DIAMETER or not teeth:
        return of_batch
    read = Estimate(
        value=from_millionths(of_batch.value),
        random=from_millionths(of_batch.random),
        systematic=from_millionths(of_batch.systematic),
        count=of_batch.count,
    )
    true = over_the_tips(read, int(float(teeth)))
    return replace(
        of_batch,
        value=to_millionths(true.value),
        random=to_millionths(true.random),
        systematic=to_millionths(true.systematic),
    )


def _gauges(mode: GaugeMode | None) -> dict[PartQuantity, Gauge]:
    """Give each quantity what it was read with; lengths off any gauge if not known."""
    own = compute_gauge(mode) if mode else UNKNOWN_GAUGE
    gauges = {}
    for quantity, scale in PART_SCALES.items():
        known = own if scale.unit is Unit.MILLIMETRE else None
        gauges[quantity] = Gauge(
            known.resolution if known else 0.0,
            known.max_permissible_error if known else 0.0,
            max(known.repeatability if known else 0.0, scale.repeatability),
        )
    return gauges


def over_the_tips(measured: Estimate, teeth: int) -> Estimate:
    """Make the diameter of a gear out of what flat jaws read over its teeth."""
    value, random, systematic = diameter_over_tips(
        measured.value, measured.random, measured.systematic, teeth
    )
    return replace(measured, value=value, random=random, systematic=systematic)


def batch_like(kind: PartKind, rows: Sequence[BatchRow]) -> Batch | None:
    """Find the batch in which the same sizes came in before, by whatever names."""
    content = content_of(kind, rows)
    return Batch.objects.filter(content=content).first() if content else None


def content_of(kind: PartKind, rows: Sequence[BatchRow]) -> str:
    """
    Hash the sizes and counts of rows, in whatever order, by whatever names.

    A single row says too little to be known again: nothing is given for it.
    """
    if len(rows) < 2:
        return ""
    counts = [fact for fact in KINDS[kind].fact_list if fact.is_count]
    content = sorted(
        [
            *(
                [fact.name, str(fact.read(row.words[fact.name]))]
                for fact in counts
                if row.words.get(fact.name)
            ),
            *sorted([r.quantity, r.section, r.millionths] for r in row.readings),
        ]
        for row in rows
    )
    return hashlib.sha256(json.dumps([kind, content]).encode()).hexdigest()
