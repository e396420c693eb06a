"""The night's list, with the head of its seals for everybody to keep."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from inspection.access import may_open_every_sealed_sheet
from inspection.loaders.night.night_list import load_night_list
from inspection.loaders.night.protests import protests_seen_by
from inspection.loaders.seals.heads import head_at_closing, head_of
from inspection.models import RaceNight
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.drawing.codes import draw_code


@require_GET
@allow(Ability.LOOK)
def night_list(request: HttpRequest, night_id: int) -> HttpResponse:
    """Show a night's cars with their seals, and the head that proves them."""
    night = get_object_or_404(RaceNight, pk=night_id)
    rows = load_night_list(night)
    head = head_of(seal for row in rows for seal in row.seals)
    words = _("Head of the seals of %(night)s") % {"night": night}
    page = {
        "night": night,
        "rows": rows,
        "protests": protests_seen_by(signed_in(request)).filter(entry__night=night),
        "opens_sheets": may_open_every_sealed_sheet(signed_in(request)),
        "head": head,
        "audit": head_at_closing(night),
        "qr": mark_safe(draw_code(head.code, words=words)) if head else "",  # noqa: S308
    }
    return render(request, "inspection/night/night_list.html", page)
