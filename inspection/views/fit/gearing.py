"""A car's gearing: ratios, rollouts, and how its gears mesh."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from inspection.access import cars_seen_by
from inspection.forms.fit.gearing import MeshForm
from inspection.loaders.fit.cars import load_cars
from inspection.loaders.fit.gearing import load_gearing, mesh_rows
from inspection.loaders.fit.parts import to_be_had
from inspection.views.cars.addresses import at_its_tag
from inspection.views.cars.garage import car_of
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.models import Part
from inventory.views.acts import form_page


@require_GET
@allow(Ability.LOOK)
@at_its_tag
def gearing(request: HttpRequest, tag: str) -> HttpResponse:
    """Show the ratios that the stock makes on a car, and the mesh of two gears."""
    person, asked_car = signed_in(request), car_of(request, tag)
    (car,) = load_cars(cars_seen_by(person).filter(pk=asked_car.pk))
    parts = Part.objects.filter(to_be_had(person))
    table = load_gearing(car, parts, pitch=request.GET.get("pitch", ""))
    now = {"pinion": table.pinion_now, "gear": table.gear_now}
    is_asked = "gear" in request.GET
    form = MeshForm(request.GET) if is_asked else MeshForm(initial=now)
    pair = form.pair() if is_asked else now
    rows = []
    if pair and pair["pinion"] and pair["gear"] and asked_car.layout != "in-line":
        rows = mesh_rows(
            car, pinion=pair["pinion"], gear=pair["gear"], pitch=table.pitch
        )
    return form_page(
        request,
        form,
        "inspection/fit/gearing.html",
        {"car": car, "table": table, "pair": pair, "rows": rows},
    )
