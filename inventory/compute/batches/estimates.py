"""
The estimates of a whole batch at once, from its rows of readings.

Millionths in and out.  A tyre read at several angles, or at both edges, gives its
form as well as its diameter.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.compute.arrays import Floats
from inventory.compute.batches.rows import BatchRow
from inventory.compute.measuring import Gauge, estimates, tyre_forms
from inventory.compute.numbers import MILLION, from_millionths
from inventory.compute.stock import PartQuantity, Section

_SECTIONS = {section: place for place, section in enumerate(Section)}


@dataclass(frozen=True, kw_only=True, slots=True)
class BatchEstimate:
    """
    What the readings of one row say of one quantity, in millionths.

    Attributes
    ----------
    row : int
        Position of the row.
    quantity : PartQuantity
        What of the part.
    value, random, systematic : int
        Best value, and the two parts of its standard uncertainty.
    count : int
        Readings that it rests on.
    """

    row: int
    quantity: PartQuantity
    value: int
    random: int
    systematic: int
    count: int


def estimates_of_batch(
    rows: Sequence[BatchRow], gauges: Mapping[PartQuantity, Gauge]
) -> list[BatchEstimate]:
    """
    Estimate every quantity of every row.

    Parameters
    ----------
    rows : sequence of BatchRow
        Parts with their readings.
    gauges : mapping of PartQuantity to Gauge
        What each quantity was read with; one for every quantity in the rows, and
        for the form where diameters are.

    Returns
    -------
    list of BatchEstimate
        By quantity, then by row.  A tyre's form comes from its diameters where the
        row does not give it.

    Examples
    --------
    >>> from inventory.compute.batches.rows import BatchReading
    >>> reading = BatchReading(
    ...     quantity=PartQuantity.TYRE_WIDTH,
    ...     section=Section.MIDDLE,
    ...     millionths=9_500_000,
    ...     text="9.5",
    ...     mark="",
    ... )
    >>> row = BatchRow(number=1, tag="", readings=(reading,))
    >>> gauge = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.05)
    >>> estimates_of_batch([row], {PartQuantity.TYRE_WIDTH: gauge})[0].random
    50000
    """
    made: list[BatchEstimate] = []
    for quantity in PartQuantity:
        which = [
            place
            for place, row in enumerate(rows)
            if any(one.quantity is quantity for one in row.readings)
        ]
        if not which:
            continue
        table = _readings(rows, which, quantity)
        if quantity is PartQuantity.TYRE_DIAMETER:
            made += _forms(table, which, gauges)
        else:
            estimated = estimates(table.reshape(len(which), -1), gauges[quantity])
            parts = (estimated.value, estimated.random, estimated.systematic)
            made += _rows(quantity, which, parts, estimated.count)
    return _last_of_each(made)


def _readings(
    rows: Sequence[BatchRow], which: Sequence[int], quantity: PartQuantity
) -> Floats:
    """Lay the readings of a quantity out by part, section and angle."""
    held: list[list[list[float]]] = []
    for place in which:
        sections: list[list[float]] = [[] for _ in _SECTIONS]
        for one in rows[place].readings:
            if one.quantity is quantity:
                sections[_SECTIONS[one.section]].append(from_millionths(one.millionths))
        held.append(sections)
    angles = max(len(angle) for sections in held for angle in sections)
    table = np.full((len(which), len(_SECTIONS), angles), np.nan)
    for part, sections in enumerate(held):
        for section, values in enumerate(sections):
            table[part, section, : len(values)] = values
    return table


def _forms(
    table: Floats, which: Sequence[int], gauges: Mapping[PartQuantity, Gauge]
) -> Iterator[BatchEstimate]:
    forms = tyre_forms(table, gauges[PartQuantity.TYRE_DIAMETER])
    estimated = forms.diameter
    parts = (estimated.value, estimated.random, estimated.systematic)
    yield from _rows(PartQuantity.TYRE_DIAMETER, which, parts, estimated.count)
    for quantity, value in (
        (PartQuantity.OUT_OF_ROUND, forms.out_of_round),
        (PartQuantity.TAPER, forms.taper),
    ):
        # A difference of two readings: both scatters, and none of the gauge's error.
        gauge = gauges[quantity]
        one = np.hypot(gauge.repeatability, gauge.resolution / np.sqrt(12))
        random = np.full(value.shape, np.sqrt(2) * one)
        parts = (value, random, np.zeros(value.shape))
        yield from _rows(quantity, which, parts, estimated.count)


def _rows(
    quantity: PartQuantity,
    which: Sequence[int],
    parts: tuple[Floats, Floats, Floats],
    count: NDArray[np.int64],
) -> Iterator[BatchEstimate]:
    known = ~np.isnan(parts[0])
    whole = [np.rint(np.where(known, part, 0) * MILLION).astype(int) for part in parts]
    table = zip(which, known.tolist(), *(part.tolist() for part in whole), strict=True)
    for (row, is_known, value, random, systematic), readings in zip(
        table, count.tolist(), strict=True
    ):
        if is_known:
            yield BatchEstimate(
                row=row,
                quantity=quantity,
                value=value,
                random=random,
                systematic=systematic,
                count=readings,
            )


def _last_of_each(made: Sequence[BatchEstimate]) -> list[BatchEstimate]:
    """Let a form that a row gives stand before the one its diameters make."""
    # What diameters make comes first, for they are the first quantity.
    last = {(one.row, one.quantity): one for one in made}
    return list(last.values())
