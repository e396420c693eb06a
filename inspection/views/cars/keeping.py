"""A car through the years: said anew, lent, sold, retired and back."""

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.access import cars_seen_by, may_keep
from inspection.actions.cars import (
    change_car,
    confirm_car,
    lend_car,
    race_again,
    retire_car,
    sell_car,
)
from inspection.forms.cars.cars import HandsForm, NewCarForm
from inspection.models import Car
from inspection.views.cars.addresses import at_its_tag
from inspection.views.cars.garage import car_of
from inventory.access import allow, signed_in
from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.turns import in_turn


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
@at_its_tag
@in_turn
def edit(request: HttpRequest, tag: str) -> HttpResponse:
    """Say anew what a car is."""
    car = _kept(request, tag)
    form = NewCarForm(request.POST or None, car=car)
    if form.is_valid():
        with form.refusing():
            change_car(car, form.facts(car.owner), act=act_of(request))
            return redirect("inspection:car", tag=tag)
    return form_page(
        request,
        form,
        "inspection/cars/edit_car.html",
        {"car": car},
    )


@require_POST
@allow(Ability.MEASURE_FOR_THE_CLUB)
@at_its_tag
def as_stored(request: HttpRequest, tag: str) -> HttpResponse:
    """Say that a car is what it is registered as."""
    car = car_of(request, tag)
    with refusals_told(request):
        confirm_car(car, act=act_of(request))
    return redirect("inspection:car", tag=car.tag)


@require_GET
@allow(Ability.LOOK)
@at_its_tag
def hands(request: HttpRequest, tag: str) -> HttpResponse:
    """Show whose car it is, and what may become of it."""
    return _hands(request, _kept(request, tag))


@require_POST
@allow(Ability.LOOK)
@at_its_tag
def lend(request: HttpRequest, tag: str) -> HttpResponse:
    """Lend a car to somebody who races it."""
    car = _kept(request, tag)
    form = _lend_form(request)
    if form.is_valid():
        with form.refusing():
            lend_car(car, form.cleaned_data["person"], act=act_of(request))
            return redirect("inspection:car", tag=tag)
    return _hands(request, car, lend_form=form)


@require_POST
@allow(Ability.LOOK)
@at_its_tag
def back(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a lent car back."""
    lend_car(_kept(request, tag), None, act=act_of(request))
    return redirect("inspection:car", tag=tag)


@require_POST
@allow(Ability.LOOK)
@at_its_tag
def sell(request: HttpRequest, tag: str) -> HttpResponse:
    """Give a car to another owner."""
    car = _kept(request, tag)
    form = _sell_form(request)
    if form.is_valid():
        with form.refusing():
            sell_car(car, form.cleaned_data["person"], act=act_of(request))
            messages.success(
                request,
                _("%(car)s is %(who)s’s now.")
                % {"car": car, "who": form.cleaned_data["person"]},
            )
            return redirect("inspection:cars")
    return _hands(request, car, sell_form=form)


@require_POST
@allow(Ability.LOOK)
@at_its_tag
def retire(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a car out of racing."""
    return _at_once(request, _kept(request, tag), retire_car)


@require_POST
@allow(Ability.LOOK)
@at_its_tag
def race(request: HttpRequest, tag: str) -> HttpResponse:
    """Bring a retired car back."""
    return _at_once(request, _kept(request, tag), race_again)


def _at_once(request: HttpRequest, car: Car, move: Callable[..., Car]) -> HttpResponse:
    act: Act = act_of(request)
    try:
        move(car, act=act)
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:hands", tag=car.tag)
    return redirect("inspection:car", tag=car.tag)


def _kept(request: HttpRequest, tag: str) -> Car:
    """Give a car that this person says something of, or 404."""
    car = car_of(request, tag)
    if not may_keep(signed_in(request), car):
        msg = f"There is no car {tag} for you to change."
        raise Http404(msg)
    return car


def _lend_form(request: HttpRequest | None) -> HandsForm:
    data = request.POST if request else None
    return HandsForm(data, label=_("Lend it to"), prefix="lend")


def _sell_form(request: HttpRequest | None) -> HandsForm:
    data = request.POST if request else None
    return HandsForm(data, label=_("Its new owner"), prefix="sell")


def _hands(
    request: HttpRequest,
    car: Car,
    *,
    lend_form: HandsForm | None = None,
    sell_form: HandsForm | None = None,
) -> HttpResponse:
    car = cars_seen_by(signed_in(request)).select_related("lent_to").get(pk=car.pk)
    refused = lend_form or sell_form
    return render(
        request,
        "inspection/cars/hands.html",
        {
            "car": car,
            "lend_form": lend_form or _lend_form(None),
            "sell_form": sell_form or _sell_form(None),
        },
        status=422 if refused else 200,
    )
