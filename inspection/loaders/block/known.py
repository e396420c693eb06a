"""What a new reading on the block is held against before it is written."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.db.models import Subquery

from inspection.compute.quantities import (
    PART_COLUMNS,
    QUANTITIES,
    column_owner,
    columns_of,
)
from inspection.loaders.block.values import (
    ColumnValue,
    part_values,
    values_of_readings,
)
from inspection.models import Finding, Sheet, SheetReading
from inspection.words.quantities import column_name
from inventory.compute.numbers import Kin, Known, KnownOf, from_millionths, kin_of

#: So many latest findings, of all rules, are looked through for a class's values.
LATEST_FINDINGS: Final = 4_000


@dataclass(frozen=True, kw_only=True)
class KnownOfColumn:
    """What is known of the thing that is read, and of those that are like it."""

    beside: tuple[Known, ...] = ()
    elsewhere: tuple[Known, ...] = ()


def known_of_column(
    sheet: Sheet, column: str, readings: Iterable[SheetReading]
) -> KnownOfColumn:
    """
    Give what a column was last; else what its part is known by and its pair has.

    The fitted parts are asked for only where this car was not read yet, in a query.
    """
    read = values_of_readings(readings)
    if column in read:
        was = _known(read[column], KnownOf.LAST_READING)
        return KnownOfColumn(beside=(was,))
    quantity = QUANTITIES[column_owner(column)[0]]
    if quantity.from_part is None or quantity.from_part.size is None:
        return KnownOfColumn()
    fitted = part_values(sheet)
    beside = []
    if column in fitted:
        part = fitted[column]
        beside.append(_known(part, KnownOf.FITTED_PART, name=part.part_tag))
    values = {**fitted, **read}
    pair = [one for one in columns_of(quantity.key) if one != column]
    beside += [_known(values[one], KnownOf.OTHER_SIDE) for one in pair if one in values]
    like = {
        one
        for (_, size), one in PART_COLUMNS.items()
        if size == quantity.from_part.size
    }
    return KnownOfColumn(
        beside=tuple(beside),
        elsewhere=tuple(
            _known(values[one], KnownOf.OTHER_PLACE, name=column_name(one))
            for one in sorted(like - {column, *pair})
            if one in values
        ),
    )


def kin_of_column(sheet: Sheet, column: str) -> Kin | None:
    """
    Give how a column's values spread among the cars of the sheet's class.

    Of quantities that span a step of ten, where a slip of the decimal is not
    impossible: clearances, for one.  From what the latest sheets found, in a query.
    """
    quantity = QUANTITIES[column_owner(column)[0]]
    if quantity.low < 0 or quantity.high <= 10 * quantity.low:
        return None
    last = Subquery(Finding.objects.order_by("-pk").values("pk")[:1])
    latest = Finding.objects.filter(
        # A stretch of keys, so that it costs the same in twenty years.
        pk__gt=last - LATEST_FINDINGS,
        rule__quantity=quantity.key,
        sheet__entry__race_class=sheet.entry.race_class_id,
        value__gt=0,
    ).order_by()
    return kin_of(
        [
            from_millionths(value or 0)
            for value in latest.values_list("value", flat=True)
        ]
    )


def _known(value: ColumnValue, of: KnownOf, *, name: str = "") -> Known:
    quantity = value.quantity
    # What is allowed besides has the form of a tyre in it already.
    random = (
        min(value.random, quantity.repeatability) if quantity.is_round else value.random
    )
    u_value = math.hypot(random, value.systematic)
    return Known(of=of, value=value.value, standard_uncertainty=u_value, name=name)
