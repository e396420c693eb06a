"""People who do not come any more, and their erasure."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inspection.actions.people.old_people import erase_old_people
from inspection.loaders.old_people import SOON, due_to_be_erased, months_kept
from inventory.access import allow
from inventory.compute.roles import Ability


@require_http_methods(["GET", "POST"])
@allow(Ability.MANAGE_PEOPLE)
def old_people(request: HttpRequest) -> HttpResponse:
    """List who is due, and erase them."""
    now, months = timezone.now(), months_kept()
    if request.method == "POST":
        count = erase_old_people(at=now)
        messages.success(request, _("Erased: %(count)d.") % {"count": count})
        return redirect("inspection:old_people")
    due = list(due_to_be_erased(now, months=months))
    soon = [
        one for one in due_to_be_erased(now + SOON, months=months) if one not in due
    ]
    context = {"due": due, "soon": soon, "months": months}
    return render(request, "inspection/people/old_people.html", context)
