"""Readings in doubt: taken with a gauge that failed the next check it had."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import F, OuterRef, QuerySet, Subquery

from inspection.models import Sheet, SheetReading
from inventory.compute.instruments import CheckResult
from inventory.models import Gauge, GaugeCheck


@dataclass(frozen=True, kw_only=True)
class DoubtfulSheet:
    """A sheet with readings in doubt; a sealed one goes to the chief."""

    sheet: Sheet
    count: int

    @property
    def is_sealed(self) -> bool:
        return self.sheet.is_sealed


def doubtful_readings() -> QuerySet[SheetReading]:
    """Unstruck readings whose gauge failed the first check after them."""
    next_check = GaugeCheck.objects.filter(
        gauge=OuterRef("gauge_mode__gauge"), taken_at__gt=OuterRef("taken_at")
    ).order_by("taken_at", "id")
    return (
        SheetReading.objects.filter(strike=None)
        .annotate(next_result=Subquery(next_check.values("result")[:1]))
        .filter(next_result=CheckResult.FAILED)
    )


def doubtful_gauges(sheet: Sheet) -> list[str]:
    """Name the gauges of a sheet that failed the next check they had."""
    names = (
        doubtful_readings()
        .filter(sheet=sheet)
        .annotate(name=F("gauge_mode__gauge__name"))
        .values_list("name", flat=True)
    )
    return sorted(set(names))


def sheets_in_doubt(gauge: Gauge) -> list[DoubtfulSheet]:
    """Give the sheets that a failed gauge has put in doubt, newest first."""
    readings = (
        doubtful_readings()
        .filter(gauge_mode__gauge=gauge)
        .select_related("sheet__seal", "sheet__entry__car")
        .order_by("-sheet_id")
    )
    return _by_sheet(readings)


def _by_sheet(readings: Iterable[SheetReading]) -> list[DoubtfulSheet]:
    sheets: dict[int, Sheet] = {}
    counts: dict[int, int] = {}
    for reading in readings:
        sheets[reading.sheet_id] = reading.sheet
        counts[reading.sheet_id] = counts.get(reading.sheet_id, 0) + 1
    return [DoubtfulSheet(sheet=one, count=counts[pk]) for pk, one in sheets.items()]
