"""Cars: a member's cars, and the history of each."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN, cars_seen_by
from inspection.compute.quantities import COLUMNS
from inspection.loaders.values import stored_values
from inspection.models import FittedPart, Sheet
from inventory.access import allow, signed_in


@require_GET
@allow(ANYONE_SIGNED_IN)
def cars(request: HttpRequest) -> HttpResponse:
    """List the cars that this person may open."""
    found = cars_seen_by(signed_in(request))
    return render(request, "inspection/cars.html", {"cars": found})


@require_GET
@allow(ANYONE_SIGNED_IN)
def car(request: HttpRequest, number: str) -> HttpResponse:
    """Show one car: its parts, its stored geometry, its sheets."""
    found = cars_seen_by(signed_in(request)).filter(number=number).first()
    if found is None:
        msg = f"There is no car {number} for you to see."
        raise Http404(msg)
    values = stored_values(found)
    return render(
        request,
        "inspection/car.html",
        {
            "car": found,
            "fitted": FittedPart.objects.filter(
                car=found, removed_at=None
            ).select_related("part"),
            "geometry": [values[column] for column in COLUMNS if column in values],
            "sheets": Sheet.objects.filter(entry__car=found).select_related(
                "entry__night", "edition__rulebook", "seal"
            ),
        },
    )
