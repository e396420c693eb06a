"""Remedies: what would make a car legal, and handing it out on the block."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inspection.access import sheets_seen_by
from inspection.actions.remedies import hand_out_remedy
from inspection.compute.night import EntryState
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.loaders.remedies import load_remedies, parts_put_on_since
from inspection.models import Sheet
from inspection.views.block.rules_of_sheet import rules_of
from inventory.access import allow, signed_in
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.models import Person
from inventory.views.acts import act_of


@require_GET
@allow(Ability.LOOK)
def remedies(request: HttpRequest, number: str) -> HttpResponse:
    """Show what of the drawers would make the car of a sheet legal."""
    person = signed_in(request)
    sheet = sheets_seen_by(person, sheets_to_load()).filter(number=number).first()
    if sheet is None:
        msg = f"There is no sheet {number} for you to see."
        raise Http404(msg)
    loaded = load_sheet(sheet)
    context: dict[str, Any] = {
        "sheet": sheet,
        "refused": [one for one in rules_of(loaded) if one.found.keeps_from_passing],
        "remedies": load_remedies(loaded) if loaded.refused else None,
        "put_on": parts_put_on_since(sheet),
        "back": request.path,
        **_may(person, sheet),
    }
    name = "pieces/remedies" if request.headers.get("HX-Request") else "remedies"
    return render(request, f"inspection/remedies/{name}.html", context)


@require_POST
@allow(Ability.INSPECT_CARS)
def hand_out(request: HttpRequest, number: str) -> HttpResponse:
    """Hand a remedy out on the block and put it on the car."""
    tags = [tag for tag in request.POST.get("tags", "").split("+") if tag]
    try:
        parts = hand_out_remedy(number, tags, act=act_of(request))
    except Sheet.DoesNotExist as error:
        msg = f"There is no sheet {number}."
        raise Http404(msg) from error
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    else:
        names = ", ".join(part.tag for part in parts)
        sentence = _("%(tags)s handed out and on the car; the re-check begins with it.")
        messages.success(request, sentence % {"tags": names})
    return redirect("inspection:remedies", number=number)


def _may(person: Person, sheet: Sheet) -> dict[str, bool]:
    state = sheet.entry.state
    is_last = not Sheet.objects.counting().filter(previous=sheet).exists()
    waits = state in {EntryState.SENT_BACK, EntryState.WAITING}
    is_scrutineer = person.may(Ability.INSPECT_CARS)
    return {
        "may_hand_out": is_scrutineer and is_last and waits and sheet.is_sealed,
        "may_queue": is_scrutineer and is_last and state == EntryState.SENT_BACK,
        "may_reserve": person.may(Ability.RESERVE_PARTS),
    }
