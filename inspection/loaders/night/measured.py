"""What the sheets of a night say of each entry, for the board and the list."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, Q, QuerySet

from inspection.compute.rulebooks import Stage
from inspection.loaders.block.doubts import failed_since
from inspection.models import RaceNight, Sheet


@dataclass(kw_only=True)
class Measured:
    """What the sheets of one entry say: the last of them, and what any of them was."""

    sheet_id: int | None = None
    number: str = ""
    block_id: int | None = None
    by: str = ""
    started_at: dt.datetime | None = None
    #: Any gauge, since the night was opened.
    has_failed_since: bool = False
    is_checked_after: bool = False
    is_by_concerned: bool = False


def measured_on(night: RaceNight) -> Mapping[int, Measured]:
    """Load what the sheets of a night say, by entry; one query."""
    sheets = Sheet.objects.filter(entry__night=night)
    asked = sheets.annotate(
        by_concerned=one_of(by_concerned(sheets).values("pk")),
        # Of the night and not of a sheet: here it costs no query of its own.
        has_failed=Exists(failed_since(night.opened_at)),
    ).values(
        "entry",
        "pk",
        "number",
        "block",
        "started_by__name",
        "started_at",
        "stage",
        "seal",
        "by_concerned",
        "has_failed",
    )
    of_entry: dict[int, Measured] = defaultdict(Measured)
    for sheet in asked.order_by("pk"):
        last = of_entry[sheet["entry"]]
        last.sheet_id, last.number = sheet["pk"], sheet["number"]
        last.block_id, last.by = sheet["block"], sheet["started_by__name"]
        last.started_at = sheet["started_at"]
        last.has_failed_since = sheet["has_failed"]
        is_sealed = sheet["seal"] is not None
        last.is_checked_after |= is_sealed and sheet["stage"] == Stage.AFTER
        last.is_by_concerned |= sheet["by_concerned"]
    return dict(of_entry)


def by_concerned(sheets: QuerySet[Sheet]) -> QuerySet[Sheet]:
    """Keep the sheets that somebody concerned in the car measured or sealed."""
    return sheets.filter(Q(seal__is_own_car=True) | Q(readings__is_own_car=True))


def one_of(keys: QuerySet[Any, Any]) -> "ExpressionWrapper[Q]":
    """Whether it is one of some; asked once for all of them."""
    return ExpressionWrapper(Q(pk__in=keys), output_field=BooleanField())
