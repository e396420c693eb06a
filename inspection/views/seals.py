"""Seals: when they were checked, and what was found."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.loaders.seals.heads import head_of_audit
from inspection.models import SealCheck
from inventory.access import allow
from inventory.compute.roles import Ability

_SHOWN = 30


@require_GET
@allow(Ability.SEE_EVERY_CAR)
def seals(request: HttpRequest) -> HttpResponse:
    """List the last checks of the seals, and what the last one found."""
    runs = SealCheck.objects.select_related("night")[:_SHOWN]
    page = {"runs": runs, "audit": head_of_audit()}
    return render(request, "inspection/seals/seals.html", page)
