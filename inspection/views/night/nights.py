"""Race nights: the list of them, setting one up, opening and closing it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.night.plans import (
    NightPlan,
    call_first,
    change_night,
    close_list,
)
from inspection.actions.race_nights import (
    cars_on_block,
    close_night,
    open_night,
    plan_night,
)
from inspection.actions.seal_checks import settle_night
from inspection.forms.night.nights import NightForm
from inspection.loaders.night.board import load_board
from inspection.loaders.night.nights import load_nights
from inspection.models import RaceClass, RaceNight
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.turns import in_turn


@require_GET
@allow(Ability.LOOK)
def nights(request: HttpRequest) -> HttpResponse:
    """List the nights: open, planned, past."""
    return render(
        request,
        "inspection/night/nights.html",
        {"nights": load_nights(request.GET.get("page"))},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.RUN_NIGHTS)
def new_night(request: HttpRequest) -> HttpResponse:
    """Set up a night: its name, its date, the edition of each class."""
    form = NightForm(request.POST or None, today=timezone.localdate())
    same = None
    if form.is_valid():
        facts = form.facts()
        try:
            night = plan_night(**facts, act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
            same = _same_night(refusal, facts)
        else:
            return redirect("inspection:night", night_id=night.pk)
    return form_page(
        request,
        form,
        "inspection/night/new_night.html",
        {"same": same},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.RUN_NIGHTS)
@in_turn
def edit(request: HttpRequest, night_id: int) -> HttpResponse:
    """Change a night that has not been opened."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = NightForm(request.POST or None, today=timezone.localdate(), night=night)
    same = None
    if form.is_valid():
        facts = form.facts()
        try:
            change_night(night, NightPlan(**facts), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
            same = _same_night(refusal, facts)
        else:
            return redirect("inspection:night", night_id=night.pk)
    return form_page(
        request,
        form,
        "inspection/night/new_night.html",
        {"same": same, "night": night},
    )


def _same_night(refusal: RefusedError, facts: dict[str, Any]) -> RaceNight | None:
    """Give the night that is there already, for a way on."""
    if refusal.code != "night_there":
        return None
    there = RaceNight.objects.filter(name__iexact=facts["name"], date=facts["date"])
    return there.first()


@require_POST
@allow(Ability.RUN_NIGHTS)
def close_the_list(request: HttpRequest, night_id: int) -> HttpResponse:
    """Close the list for members now."""
    night = get_object_or_404(RaceNight, pk=night_id)
    with refusals_told(request):
        close_list(night, act=act_of(request))
    return redirect("inspection:night", night_id=night.pk)


@require_POST
@allow(Ability.INSPECT_CARS)
def first(request: HttpRequest, night_id: int) -> HttpResponse:
    """Call a class to the blocks before the others, or none any more."""
    night = get_object_or_404(RaceNight, pk=night_id)
    key = request.POST.get("race_class", "")
    chosen = RaceClass.objects.filter(pk=key).first() if key.isdecimal() else None
    with refusals_told(request):
        call_first(night, chosen, act=act_of(request))
    return redirect("inspection:night", night_id=night.pk)


@require_POST
@allow(Ability.RUN_NIGHTS)
def open_for_racing(request: HttpRequest, night_id: int) -> HttpResponse:
    """Open a night; from now on cars go on the block."""
    night = get_object_or_404(RaceNight, pk=night_id)
    with refusals_told(request):
        open_night(night, act=act_of(request))
    return redirect("inspection:night", night_id=night.pk)


@require_http_methods(["GET", "POST"])
@allow(Ability.RUN_NIGHTS)
def close(request: HttpRequest, night_id: int) -> HttpResponse:
    """Show how the night stands, then close it."""
    night = get_object_or_404(RaceNight, pk=night_id)
    if request.method == "POST":
        act = act_of(request)
        with refusals_told(request):
            close_night(night, act=act)
            settle_night(night, act=act)
            return redirect("inspection:night_list", night_id=night.pk)
    board = load_board(night, timezone.now())
    return render(
        request,
        "inspection/night/close_night.html",
        {"board": board, "on_block": cars_on_block(night)},
    )
