"""Every sealed sheet of a night, as it is printed in one go."""

from collections import defaultdict
from dataclasses import dataclass

from inspection.models import Finding, RaceNight, Seal, SheetReading


@dataclass(frozen=True, kw_only=True)
class Print:
    """One sheet: its seal, what each rule said, what was read."""

    seal: Seal
    findings: tuple[Finding, ...]
    readings: tuple[SheetReading, ...]


def load_prints(night: RaceNight) -> list[Print]:
    """Load a night's sealed sheets in the order of its chain, in three queries."""
    findings: dict[int, list[Finding]] = defaultdict(list)
    rows = Finding.objects.filter(sheet__seal__night=night).select_related("rule")
    for finding in rows.order_by("sheet", "rule__position"):
        findings[finding.sheet_id].append(finding)
    readings: dict[int, list[SheetReading]] = defaultdict(list)
    taken = SheetReading.objects.filter(sheet__seal__night=night, strike=None)
    for reading in taken.select_related("gauge_mode__gauge", "by").order_by("pk"):
        readings[reading.sheet_id].append(reading)
    seals = Seal.objects.filter(night=night).select_related(
        "sealed_by",
        "sheet__block",
        "sheet__edition__rulebook",
        "sheet__entry__car__owner",
        "sheet__entry__driver",
        "sheet__entry__race_class",
    )
    return [
        Print(
            seal=seal,
            findings=tuple(findings[seal.sheet_id]),
            readings=tuple(readings[seal.sheet_id]),
        )
        for seal in seals.order_by("sequence")
    ]
