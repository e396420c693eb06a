"""A car's gearing: ratios, rollouts, and how its gears mesh."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN, cars_seen_by
from inspection.forms.gearing import MeshForm
from inspection.loaders.fit_cars import load_cars
from inspection.loaders.fit_parts import to_be_had
from inspection.loaders.gearing import load_gearing, mesh_rows
from inspection.views.garage import car_of
from inventory.access import allow, signed_in
from inventory.models import Part


@require_GET
@allow(ANYONE_SIGNED_IN)
def gearing(request: HttpRequest, number: str) -> HttpResponse:
    """Show the ratios that the stock makes on a car, and the mesh of two gears."""
    person, found = signed_in(request), car_of(request, number)
    (car,) = load_cars(cars_seen_by(person).filter(pk=found.pk))
    parts = Part.objects.filter(to_be_had(person))
    table = load_gearing(car, parts, pitch=request.GET.get("pitch", ""))
    now = {"pinion": table.pinion_now, "gear": table.gear_now}
    is_asked = "gear" in request.GET
    form = MeshForm(request.GET) if is_asked else MeshForm(initial=now)
    pair = form.pair() if is_asked else now
    rows = []
    if pair and pair["pinion"] and pair["gear"] and found.layout != "in-line":
        rows = mesh_rows(
            car, pinion=pair["pinion"], gear=pair["gear"], pitch=table.pitch
        )
    return render(
        request,
        "inspection/gearing.html",
        {"car": car, "table": table, "form": form, "pair": pair, "rows": rows},
        status=422 if form.errors else 200,
    )
