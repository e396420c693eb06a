"""Race nights: setting one up, opening and closing it, entering cars."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inspection.access import CHIEF, SCRUTINEERS
from inspection.actions.race_nights import (
    close_night,
    enter_car,
    open_night,
    plan_night,
)
from inspection.forms.nights import EnterCarForm, NightForm
from inspection.loaders.board import load_board
from inspection.models import RaceNight
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.views.acts import act_of


@require_http_methods(["GET", "POST"])
@allow(CHIEF)
def new_night(request: HttpRequest) -> HttpResponse:
    """Set up a night: its name, its date, the edition of each class."""
    form = NightForm(request.POST or None, today=timezone.localdate())
    if form.is_valid():
        said = form.cleaned_data
        try:
            plan_night(
                name=said["name"],
                date=said["date"],
                place=said["place"],
                editions=form.editions(),
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:tonight")
    return render(
        request,
        "inspection/new_night.html",
        {"form": form},
        status=422 if form.errors else 200,
    )


@require_POST
@allow(CHIEF)
def open_for_racing(request: HttpRequest, night_id: int) -> HttpResponse:
    """Open a night; from now on cars go on the block."""
    night = get_object_or_404(RaceNight, pk=night_id)
    try:
        open_night(night, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inspection:tonight")


@require_http_methods(["GET", "POST"])
@allow(CHIEF)
def close(request: HttpRequest, night_id: int) -> HttpResponse:
    """Show how the night stands, then close it."""
    night = get_object_or_404(RaceNight, pk=night_id)
    if request.method == "POST":
        try:
            close_night(night, act=act_of(request))
        except RefusedError as refusal:
            messages.error(request, refusal.sentence)
        else:
            return redirect("inspection:tonight")
    board = load_board(night, timezone.now())
    return render(request, "inspection/close_night.html", {"board": board})


@require_http_methods(["GET", "POST"])
@allow(SCRUTINEERS)
def enter(request: HttpRequest, night_id: int) -> HttpResponse:
    """Enter a car in a class of the night, also late."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = EnterCarForm(request.POST or None, night=night)
    if form.is_valid():
        said = form.cleaned_data
        try:
            enter_car(
                night,
                said["car"],
                race_class=said["race_class"],
                driver=form.who_drives(),
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:tonight")
    return render(
        request,
        "inspection/enter_car.html",
        {"form": form, "night": night},
        status=422 if form.errors else 200,
    )
