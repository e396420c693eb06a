"""The garage: registering a car."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from inspection.access import cars_seen_by
from inspection.actions.cars import register_car
from inspection.forms.cars.cars import NewCarForm
from inspection.models import Car
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def new_car(request: HttpRequest) -> HttpResponse:
    """Register a car of one's own."""
    form = NewCarForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            car = register_car(form.facts(signed_in(request)), act=act_of(request))
            return redirect("inspection:sizes", tag=car.tag)
    return form_page(
        request,
        form,
        "inspection/cars/new_car.html",
    )


def car_of(request: HttpRequest, tag: str) -> Car:
    """Give a car that this person may open, or 404."""
    car = cars_seen_by(signed_in(request)).filter(tag=tag).first()
    if car is None:
        msg = f"There is no car {tag} for you to see."
        raise Http404(msg)
    return car
