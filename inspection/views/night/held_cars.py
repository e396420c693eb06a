"""After the race: the list of held cars, and the sample that is drawn."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from inspection.actions.rulings.held_cars import (
    draw_sample,
    hold_car,
    plan_sample,
    release_car,
    take_sample_back,
)
from inspection.compute.night import EntryState
from inspection.forms.night.held_cars import HoldForm, SampleForm, TakeBackForm
from inspection.models import HeldCar, RaceNight, Sample
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.forms.base import PageForm
from inventory.views.acts import act_of, refusals_told


@require_GET
@allow(Ability.LOOK)
def held_cars(request: HttpRequest, night_id: int) -> HttpResponse:
    """List the held cars with their times in and out, and the sample."""
    return _page(request, _night(night_id))


@require_POST
@allow(Ability.INSPECT_CARS)
def hold(request: HttpRequest, night_id: int) -> HttpResponse:
    """Hold a car that passed."""
    night = _night(night_id)
    form = HoldForm(request.POST, night=night)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            hold_car(cleaned["entry"].pk, reason=cleaned["reason"], act=act_of(request))
            return redirect("inspection:held_cars", night_id=night.pk)
    return _page(request, night, hold_form=form)


@require_POST
@allow(Ability.INSPECT_CARS)
def release(request: HttpRequest, held_id: int) -> HttpResponse:
    """Let a held car go."""
    held = get_object_or_404(HeldCar.objects.select_related("entry"), pk=held_id)
    with refusals_told(request):
        release_car(held.pk, act=act_of(request))
    return redirect("inspection:held_cars", night_id=held.entry.night_id)


@require_POST
@allow(Ability.RUN_NIGHTS)
def sample(request: HttpRequest, night_id: int) -> HttpResponse:
    """Say before the race how many cars are drawn after it."""
    night = _night(night_id)
    form = SampleForm(request.POST)
    if form.is_valid():
        with form.refusing():
            plan_sample(night, form.cleaned_data["count"], act=act_of(request))
            return redirect("inspection:held_cars", night_id=night.pk)
    return _page(request, night, sample_form=form)


@require_POST
@allow(Ability.RUN_NIGHTS)
def draw(request: HttpRequest, night_id: int) -> HttpResponse:
    """Draw the sample, show its seed and hold its cars."""
    night = _night(night_id)
    with refusals_told(request):
        draw_sample(night, act=act_of(request))
    return redirect("inspection:held_cars", night_id=night.pk)


@require_POST
@allow(Ability.RUN_NIGHTS)
def take_back(request: HttpRequest, night_id: int) -> HttpResponse:
    """Take a sample back that was said or drawn wrongly."""
    night = _night(night_id)
    form = TakeBackForm(request.POST)
    if form.is_valid():
        with form.refusing():
            reason = form.cleaned_data["reason"]
            take_sample_back(night, reason=reason, act=act_of(request))
            return redirect("inspection:held_cars", night_id=night.pk)
    return _page(request, night, take_back_form=form)


def _night(night_id: int) -> RaceNight:
    return get_object_or_404(RaceNight, pk=night_id)


def _page(request: HttpRequest, night: RaceNight, **refused: PageForm) -> HttpResponse:
    held = HeldCar.objects.filter(entry__night=night).select_related(
        "entry__car", "entry__race_class", "by", "release__by"
    )
    samples = Sample.objects.filter(night=night).select_related(
        "draw__by", "by", "void__by"
    )
    context = {
        "night": night,
        "is_open": night.opened_at is not None and night.closed_at is None,
        "held": held,
        "sample": samples.filter(void=None).first(),
        "taken_back": samples.exclude(void=None).order_by("pk"),
        "passed": night.entries.filter(state=EntryState.PASSED).count(),
        "hold_form": HoldForm(night=night),
        "sample_form": SampleForm(),
        "take_back_form": TakeBackForm(),
    }
    return render(
        request,
        "inspection/night/held_cars.html",
        context | refused,
        status=422 if refused else 200,
    )
