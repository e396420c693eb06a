"""A sealed sheet as a file that can be checked without this club's database."""

import json

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from inspection.access import sheets_seen_by
from inspection.files.rulebooks import write_rulebook
from inspection.files.sealed_sheets import write_sealed_sheet
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.loaders.rulebooks.editions import rulebook_text
from inspection.loaders.seals.held_sheets import UNREADABLE, differences_of_sheet
from inspection.loaders.seals.links import links_of_night
from inspection.views.block.for_driver import for_driver
from inspection.views.block.rules_of_sheet import rules_of
from inventory.access import allow, signed_in
from inventory.actions.audit import record_export
from inventory.compute.roles import Ability
from inventory.views.acts import act_of
from inventory.views.sent import as_file


@require_GET
@allow(Ability.LOOK)
def sheet_file(request: HttpRequest, number: str) -> HttpResponse:
    """Give a sealed sheet with its rules and the hashes of its night."""
    seen = sheets_seen_by(signed_in(request), sheets_to_load())
    sheet = seen.filter(number=number).first()
    if sheet is None:
        msg = f"There is no sheet {number} for you to see."
        raise Http404(msg)
    if not sheet.is_sealed:
        messages.error(request, _("Sheet %(n)s is not sealed yet.") % {"n": number})
        return redirect("inspection:sheet", number=number)
    try:
        content = write_sealed_sheet(
            json.loads(sheet.seal.content),
            json.loads(write_rulebook(rulebook_text(sheet.edition))),
            links_of_night(sheet.seal.night_id),
            _told(load_sheet(sheet)),
        )
    except UNREADABLE:
        page = {"sheet": sheet, "differences": differences_of_sheet(sheet.seal)}
        return render(request, "inspection/seals/unreadable.html", page, status=409)
    record_export(sheet, act=act_of(request), form="json")
    reply = HttpResponse(content, content_type="application/json")
    return as_file(reply, f"sheet-{number}.json")


def _told(loaded: LoadedSheet) -> list[dict[str, object]]:
    """Say to the driver what the sheet's page says first."""
    return [
        {"rule": one.rule.found.rule.number, "says": one.sentences}
        for one in for_driver(loaded, rules_of(loaded))
    ]
