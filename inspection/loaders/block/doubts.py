"""Readings in doubt: taken with a gauge that failed the next check it had."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, TypeVar

from django.db.models import Case, Count, Exists, OuterRef, Q, QuerySet, Subquery, When

from inspection.compute.night import Ruling
from inspection.models import CarValue, Sheet, SheetPart, SheetReading, SheetRuling
from inventory.compute.measuring import CheckResult
from inventory.models import Gauge, GaugeCheck

#: So many failed checks of one gauge are looked at, the last ones.
MOST_FAILURES: Final = 200
#: What was read with a gauge at a moment: a sheet's reading, a stored size.
Taken = TypeVar("Taken", SheetReading, CarValue, SheetPart)
_EVER: Final = dt.datetime(1, 1, 2, tzinfo=dt.UTC)


@dataclass(frozen=True, kw_only=True)
class DoubtfulSheet:
    """A sheet with readings in doubt; a sealed one goes to the chief."""

    sheet: Sheet
    count: int

    @property
    def is_sealed(self) -> bool:
        return self.sheet.is_sealed


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """What one failed check says of one sheet's readings, and what was ruled."""

    sheet_id: int
    check_id: int
    gauge: str
    failed_at: dt.datetime
    reading_ids: tuple[int, ...]
    labels: tuple[str, ...]
    ruling: SheetRuling | None = None


def with_next_check(readings: "QuerySet[Taken]", of: str = "") -> "QuerySet[Taken]":
    """
    Say of each reading which check its gauge had next, and how that went.

    ``of`` is what leads from a row to what was read, where that is another row.
    """
    next_check = (
        GaugeCheck.objects.counting()
        .filter(
            gauge=OuterRef(f"{of}gauge_mode__gauge"),
            taken_at__gt=OuterRef(f"{of}taken_at"),
        )
        .order_by("taken_at", "id")
    )
    return readings.annotate(
        next_check=Subquery(next_check.values("pk")[:1]),
        next_result=Subquery(next_check.values("result")[:1]),
        next_at=Subquery(next_check.values("taken_at")[:1]),
    )


def with_doubt(
    values: "QuerySet[Taken]", of: str = "", **of_sheets: OuterRef
) -> "QuerySet[Taken]":
    """
    Say of sizes of cars and of parts whether their gauge failed its next check.

    Not where the chief ruled, of one of ``of_sheets`` and by that check, that it
    stands.
    """
    stands = SheetRuling.objects.filter(
        gauge_check=OuterRef("next_check"), ruling=Ruling.STANDS, **of_sheets
    )
    failed = Q(next_result=CheckResult.FAILED) & ~Exists(stands)
    is_doubtful = Case(When(failed, then=True), default=False)
    return with_next_check(values, of).annotate(is_doubtful=is_doubtful)


def doubtful_readings() -> "QuerySet[SheetReading]":
    """Unstruck readings whose gauge failed the first check after them."""
    counting = SheetReading.objects.filter(strike=None, sheet__void=None)
    return with_next_check(counting).filter(Q(next_result=CheckResult.FAILED))


def doubts_of(*sheets: int) -> dict[int, list[Doubt]]:
    """Give the doubts of sheets that have any, each with the chief's ruling on it."""
    rows = doubtful_readings().filter(sheet__in=sheets).order_by("pk")
    every_doubt = _by_check(rows.select_related("gauge_mode__gauge"))
    if not every_doubt:
        return {}
    ruled = {
        (ruling.sheet_id, ruling.gauge_check_id): ruling
        for ruling in SheetRuling.objects.filter(sheet__in=sheets)
        .exclude(gauge_check=None)
        .select_related("by", "sheet__seal")
    }
    doubts: dict[int, list[Doubt]] = defaultdict(list)
    for doubt in every_doubt:
        ruling = ruled.get((doubt.sheet_id, doubt.check_id))
        doubts[doubt.sheet_id].append(replace(doubt, ruling=ruling))
    return dict(doubts)


def doubts_among(readings: Iterable[SheetReading]) -> tuple[Doubt, ...]:
    """
    Give the doubts among a sheet's readings, loaded with what their next checks said.

    One that was written a moment ago was not, and its gauge was in order.
    """
    return _by_check(
        one
        for one in readings
        if vars(one).get("next_result") == CheckResult.FAILED
        and not hasattr(one, "strike")
    )


def _by_check(readings: Iterable[SheetReading]) -> tuple[Doubt, ...]:
    readings_by_check: dict[tuple[int, int], list[SheetReading]] = defaultdict(list)
    for one in readings:
        readings_by_check[one.sheet_id, vars(one)["next_check"]].append(one)
    return tuple(
        Doubt(
            sheet_id=sheet_id,
            check_id=check_id,
            gauge=of[0].gauge_mode.gauge.name if of[0].gauge_mode else "",
            failed_at=vars(of[0])["next_at"],
            reading_ids=tuple(one.pk for one in of),
            labels=tuple(dict.fromkeys(one.label for one in of)),
        )
        for (sheet_id, check_id), of in readings_by_check.items()
    )


def failed_since(moment: dt.datetime | None) -> QuerySet[GaugeCheck]:
    """Give the checks that a gauge failed since; a night without is in no doubt."""
    failed = GaugeCheck.objects.counting().filter(result=CheckResult.FAILED)
    return failed.none() if moment is None else failed.filter(taken_at__gte=moment)


def sheets_in_doubt(gauge: Gauge) -> QuerySet[SheetReading, Any]:
    """
    Count the readings in doubt of a failed gauge by sheet, the newest first.

    From each failed check back to the check before it, never over all readings.  A
    sealed sheet is settled once its car has been measured on another or the chief
    has ruled of it.
    """
    windows = _failed_windows(gauge)
    modes = list(gauge.modes.values_list("pk", flat=True))
    read = Q(pk__in=[])
    for window in windows:
        # Said with each, so that each is a stretch of one index.
        read |= Q(
            gauge_mode__in=modes,
            taken_at__gte=window.start,
            taken_at__lt=window.end,
        )
    ruled = SheetRuling.objects.filter(
        sheet=OuterRef("sheet"),
        gauge_check__gauge=gauge,
        gauge_check__taken_at__gt=OuterRef("taken_at"),
    )
    followed = Sheet.objects.counting().filter(previous=OuterRef("sheet"))
    return (
        SheetReading.objects.filter(read, strike=None, sheet__void=None)
        .filter(Q(sheet__seal=None) | ~Exists(followed) & ~Exists(ruled))
        .order_by("-sheet")
        .values("sheet")
        .annotate(count=Count("pk"))
    )


@dataclass(frozen=True, kw_only=True)
class _Window:
    """When what was read is in doubt: from one check until the failed one after it."""

    start: dt.datetime
    end: dt.datetime


def _failed_windows(gauge: Gauge) -> list[_Window]:
    before = (
        GaugeCheck.objects.counting()
        .filter(gauge=OuterRef("gauge"), taken_at__lte=OuterRef("taken_at"))
        .exclude(taken_at=OuterRef("taken_at"), pk__gte=OuterRef("pk"))
        .order_by("-taken_at", "-pk")
    )
    failed = (
        gauge.checks.filter(strike=None, result=CheckResult.FAILED)
        .order_by("-taken_at", "-pk")
        .annotate(start=Subquery(before.values("taken_at")[:1]))
        .values_list("start", "taken_at")
    )
    return [
        _Window(start=start or _EVER, end=end) for start, end in failed[:MOST_FAILURES]
    ]


def name_sheets(counts: Iterable[Mapping[str, int]]) -> list[DoubtfulSheet]:
    """Load the sheets of a page of counts."""
    rows = list(counts)
    sheets = Sheet.objects.select_related("seal", "entry__car").in_bulk(
        [row["sheet"] for row in rows]
    )
    return [
        DoubtfulSheet(sheet=sheets[row["sheet"]], count=row["count"]) for row in rows
    ]
