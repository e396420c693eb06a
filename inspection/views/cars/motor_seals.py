"""Motor seals of a car: which is on it, and all that were."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.notes.motor_seals import break_motor_seal, put_on_motor_seal
from inspection.forms.night.tonight import ReasonForm
from inspection.forms.notes import MotorSealForm
from inspection.loaders.block.motor_seals import motor_seals_of_car
from inspection.models import Car, MotorSeal
from inspection.views.cars.addresses import at_its_tag
from inspection.views.cars.garage import car_of
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_GET
@allow(Ability.LOOK)
@at_its_tag
def motor_seals(request: HttpRequest, tag: str) -> HttpResponse:
    """List a car's motor seals, the newest first."""
    return _page(request, car_of(request, tag), MotorSealForm())


@require_POST
@allow(Ability.INSPECT_CARS)
@at_its_tag
def put_on(request: HttpRequest, tag: str) -> HttpResponse:
    """Put a seal on the motor of a car."""
    car = car_of(request, tag)
    form = MotorSealForm(request.POST)
    if form.is_valid():
        with form.refusing():
            put_on_motor_seal(car, form.cleaned_data["number"], act=act_of(request))
            return redirect("inspection:motor_seals", tag=tag)
    return _page(request, car, form)


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def break_seal(request: HttpRequest, seal_id: int) -> HttpResponse:
    """Say that a motor seal is broken, and why."""
    seal = get_object_or_404(MotorSeal.objects.select_related("car"), pk=seal_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            break_motor_seal(
                seal, reason=form.cleaned_data["reason"], act=act_of(request)
            )
            return redirect("inspection:motor_seals", tag=seal.car.tag)
    return form_page(
        request,
        form,
        "inspection/cars/broken_seal.html",
        {"seal": seal, "heading": _("Seal %s is broken") % seal.number},
    )


def _page(request: HttpRequest, car: Car, form: MotorSealForm) -> HttpResponse:
    return form_page(
        request,
        form,
        "inspection/cars/motor_seals.html",
        {"car": car, "seals": motor_seals_of_car(car)},
    )
