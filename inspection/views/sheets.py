"""Sheets: the record as it is read on screen and printed on paper."""

from statistics import NormalDist
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN, sheets_seen_by
from inspection.compute.conformity import Outcome
from inspection.compute.entries import Decision
from inspection.drawing.rear_view import draw_rear_view
from inspection.drawing.side_view import draw_side_view
from inspection.loaders.board import next_waiting
from inspection.loaders.pictures import figures_of
from inspection.loaders.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.loaders.values import ColumnValue
from inspection.models import Sheet, SheetPart, SheetReading
from inspection.views.found_rules import rules_of
from inventory.access import allow, signed_in
from inventory.drawing.codes import draw_code
from inventory.models import Person


@require_GET
@allow(ANYONE_SIGNED_IN)
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """Show one sheet with all that its record holds."""
    seen = sheets_seen_by(signed_in(request), sheets_to_load())
    found = seen.filter(number=number).first()
    if found is None:
        msg = f"There is no sheet {number} for you to see."
        raise Http404(msg)
    loaded = load_sheet(found)
    return render(request, "inspection/sheet.html", _page(request, loaded))


def _page(request: HttpRequest, loaded: LoadedSheet) -> dict[str, Any]:
    figures = figures_of(loaded)
    address = request.build_absolute_uri(
        reverse("inspection:sheet", args=[loaded.sheet.number])
    )
    after = Sheet.objects.filter(previous=loaded.sheet).values_list("number", flat=True)
    superseded_by = after.first()
    rules = rules_of(loaded)
    return {
        "loaded": loaded,
        "sheet": loaded.sheet,
        "rules": rules,
        "failing": [rule for rule in rules if rule.is_failing],
        "missing": [r for r in rules if r.found.outcome is Outcome.NOT_MEASURED],
        "parts": SheetPart.objects.filter(sheet=loaded.sheet).select_related("part"),
        "instruments": _instruments(loaded.readings),
        "only_person": _only_person(loaded.readings),
        "other_values": _other_values(loaded),
        "superseded_by": superseded_by,
        "shows_remedies": _is_sent_back(loaded.sheet) and not superseded_by,
        "next_entry": next_waiting(loaded.sheet.entry.night_id),
        "percent": f"{100 * loaded.edition.confidence:g}",
        "risk": f"{100 * (1 - loaded.edition.confidence):g}",
        "factor": f"{NormalDist().inv_cdf(loaded.edition.confidence):.3f}",
        "address": address,
        "qr": mark_safe(draw_code(address, words=loaded.sheet.number)),  # noqa: S308
        "rear_view": mark_safe(draw_rear_view(figures)),  # noqa: S308
        "side_view": mark_safe(draw_side_view(figures)),  # noqa: S308
    }


def _is_sent_back(sheet: Sheet) -> bool:
    return sheet.is_sealed and sheet.seal.decision == Decision.SENT_BACK


def _instruments(readings: list[SheetReading]) -> list[SheetReading]:
    """Give one reading by each gauge, mode and check: what it was taken with."""
    found: dict[tuple[int | None, int | None], SheetReading] = {}
    for reading in readings:
        if reading.gauge_mode is not None:
            found.setdefault((reading.gauge_mode_id, reading.gauge_check_id), reading)
    return list(found.values())


def _other_values(loaded: LoadedSheet) -> dict[str, list[ColumnValue]]:
    """Give what the rules rest on besides this sheet's readings, by its source."""
    found: dict[str, list[ColumnValue]] = {}
    for column in [*loaded.to_take.tonight, *loaded.to_take.stored]:
        value = loaded.values.get(column)
        if value is not None and not value.reading_ids:
            source = ", ".join(filter(None, [value.source, value.gauge_name]))
            found.setdefault(source, []).append(value)
    return found


def _only_person(readings: list[SheetReading]) -> Person | None:
    """Give the one person who took all readings, if it was one."""
    people = {reading.by_id: reading.by for reading in readings}
    return next(iter(people.values())) if len(people) == 1 else None
