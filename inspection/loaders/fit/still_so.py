"""What a sealed sheet read of a car, and nothing has changed since."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeAlias

from inspection.compute.asking import AREA_OF_POSITION, Area, columns_of_area
from inspection.compute.night import PartPosition
from inspection.compute.quantities import Source
from inspection.loaders.block.sealed_values import values_of_content
from inspection.loaders.block.values import ColumnValue
from inspection.models import CarValue, Seal

#: What is known of a fitted part: a row for each size that it has.
PartRows: TypeAlias = Sequence[Mapping[str, Any]]
Fitted: TypeAlias = Mapping[PartPosition, PartRows]


def still_so(
    seal: Seal, stored: list[CarValue], fitted: Fitted
) -> dict[str, ColumnValue]:
    """Give what a sealed sheet read of a car and nothing has changed since."""
    content = json.loads(seal.content)
    changed = _changed_since(seal, content["item"]["parts"], stored, fitted)
    return {
        column: value
        for column, value in values_of_content(content).items()
        if value.source in {Source.TAKEN, Source.CARRIED} and column not in changed
    }


def _changed_since(
    seal: Seal,
    sealed: Iterable[Mapping[str, str]],
    stored: list[CarValue],
    fitted: Fitted,
) -> set[str]:
    """Columns that a sealed sheet read and that may be otherwise by now."""
    before = {PartPosition(part["position"]): part["tag"] for part in sealed}
    now = {position: rows[0]["tag"] for position, rows in fitted.items()}
    areas = {
        AREA_OF_POSITION[position]
        for position in {*before, *now}
        if before.get(position) != now.get(position)
    }
    areas |= {
        AREA_OF_POSITION[position]
        for position, rows in fitted.items()
        if any(row["taken_at"] and row["taken_at"] > seal.sealed_at for row in rows)
    }
    columns = {row.column for row in stored if row.taken_at > seal.sealed_at}
    areas |= {area for area in Area if columns & columns_of_area(area)}
    return columns.union(*(columns_of_area(area) for area in areas))
