"""Sheets: the record as it is read on screen and printed on paper."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN, sheets_seen_by
from inspection.drawing.rear_view import draw_rear_view
from inspection.drawing.side_view import draw_side_view
from inspection.loaders.pictures import figures_of
from inspection.loaders.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.models import Sheet
from inventory.access import allow, signed_in
from inventory.drawing.codes import draw_code


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
    return {
        "loaded": loaded,
        "sheet": loaded.sheet,
        "superseded_by": after.first(),
        "percent": f"{100 * loaded.edition.confidence:g}",
        "address": address,
        "qr": mark_safe(draw_code(address, words=loaded.sheet.number)),  # noqa: S308
        "rear_view": mark_safe(draw_rear_view(figures)),  # noqa: S308
        "side_view": mark_safe(draw_side_view(figures)),  # noqa: S308
    }
