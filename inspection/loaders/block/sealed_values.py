"""The values that a seal was put under, out of its own content."""

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from inspection.compute.night import ClockJump
from inspection.compute.quantities import Source
from inspection.loaders.block.values import ColumnValue
from inventory.compute.numbers import from_millionths
from inventory.models import Person


@dataclass(frozen=True, kw_only=True)
class ClockSet:
    """The clock was set while a sheet was open; ``before`` is the last time it said."""

    way: ClockJump
    before: dt.datetime


def sealed_values(content: str) -> dict[str, ColumnValue]:
    """Give the values that a seal was put under, as its content says them."""
    return values_of_content(json.loads(content))


def values_of_content(content: Mapping[str, Any]) -> dict[str, ColumnValue]:
    """Give the values that a seal's content, read as JSON, holds."""
    return {row["column"]: _sealed(row) for row in content["values"]}


def _sealed(row: dict[str, Any]) -> ColumnValue:
    gauge = row["gauge"]
    return ColumnValue(
        column=row["column"],
        value=from_millionths(row["value"]),
        random=from_millionths(row["random"]),
        systematic=from_millionths(row["systematic"]),
        gauge=(gauge[0], gauge[1]) if gauge else None,
        source=Source(row["source"]),
        reading_ids=tuple(row["readings"]),
        went_under=row["went_under"],
        between_slips=row.get("between_slips", False),
        said_by_id=row.get("said_by"),
        said_at=_moment(row.get("said_at")),
        part_tag=row.get("part", ""),
    )


def with_names(values: Mapping[str, ColumnValue]) -> dict[str, ColumnValue]:
    """Name the people behind sealed values; a seal knows them by number alone."""
    said_by = (value.said_by_id for value in values.values())
    keys = {key for key in said_by if key is not None}
    if not keys:
        return dict(values)
    names = dict(Person.objects.filter(pk__in=keys).values_list("pk", "name"))
    return {
        column: replace(value, said_by=names.get(value.said_by_id or 0, ""))
        for column, value in values.items()
    }


def _moment(text: str | None) -> dt.datetime | None:
    return dt.datetime.fromisoformat(text) if text else None


def clock_set_in(content: Mapping[str, Any]) -> ClockSet | None:
    """Give what a seal's content says of the clock, if it was set meanwhile."""
    if (clock := content.get("clock")) is None:
        return None
    before = dt.datetime.fromisoformat(clock["before"])
    return ClockSet(way=ClockJump(clock["set"]), before=before)
