"""The garage: registering a car and storing its geometry."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inspection.access import ANYONE_SIGNED_IN, cars_seen_by
from inspection.actions.cars import TakenWith, register_car, store_geometry
from inspection.forms.cars import GeometryForm, NewCarForm
from inspection.loaders.geometry import columns_to_store
from inspection.loaders.values import stored_values
from inspection.models import Car
from inventory.access import allow, signed_in
from inventory.actions.refusals import RefusedError
from inventory.loaders.gauges import load_gauges
from inventory.views.acts import act_of


@require_http_methods(["GET", "POST"])
@allow(ANYONE_SIGNED_IN)
def new_car(request: HttpRequest) -> HttpResponse:
    """Register a car of one's own."""
    form = NewCarForm(request.POST or None)
    if form.is_valid():
        try:
            car = register_car(form.facts(signed_in(request)), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:geometry", number=car.number)
    return render(
        request,
        "inspection/new_car.html",
        {"form": form},
        status=422 if form.errors else 200,
    )


@require_http_methods(["GET", "POST"])
@allow(ANYONE_SIGNED_IN)
def geometry(request: HttpRequest, number: str) -> HttpResponse:
    """Store a car's geometry: its owner's work, or a scrutineer's."""
    car, act = car_of(request, number), act_of(request)
    form = GeometryForm(
        request.POST or None,
        columns=columns_to_store(car),
        values=stored_values(car),
        gauges=load_gauges(act.at),
    )
    if form.is_valid():
        gauge = form.chosen_gauge
        taken = (
            TakenWith(gauge_mode=gauge.mode, gauge_check=gauge.check) if gauge else None
        )
        try:
            store_geometry(car, form.texts(), taken_with=taken, act=act)
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:car", number=number)
    return render(
        request,
        "inspection/geometry.html",
        {"car": car, "form": form},
        status=422 if form.errors else 200,
    )


def car_of(request: HttpRequest, number: str) -> Car:
    """Give a car that this person may open, or 404."""
    car = cars_seen_by(signed_in(request)).filter(number=number).first()
    if car is None:
        msg = f"There is no car {number} for you to see."
        raise Http404(msg)
    return car
