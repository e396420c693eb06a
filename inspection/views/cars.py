"""Cars: a member's cars, how long each stays legal, and its history."""

from typing import Any, Final
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN, cars_seen_by
from inspection.compute.fit import NotMeasuredError, largest_gear
from inspection.compute.legality import TyresNotMeasuredError
from inspection.compute.quantities import COLUMNS
from inspection.compute.tyre_sizes import TyreSizes, legal_tyre_sizes
from inspection.loaders.fit_cars import CarNow, load_cars
from inspection.loaders.values import stored_values
from inspection.loaders.wear import wear_of_car
from inspection.models import Car, FittedPart, SavedJig, Sheet
from inspection.views.wear import wear_chart
from inventory.access import allow, signed_in

SHEETS_A_PAGE: Final = 30
_JIGS: Final = 5


@require_GET
@allow(ANYONE_SIGNED_IN)
def cars(request: HttpRequest) -> HttpResponse:
    """List the cars that this person may open."""
    found = cars_seen_by(signed_in(request))
    return render(request, "inspection/cars.html", {"cars": found})


@require_GET
@allow(ANYONE_SIGNED_IN)
def car(request: HttpRequest, number: str) -> HttpResponse:
    """Show one car: how long it stays legal, its parts, geometry and sheets."""
    found = load_cars(cars_seen_by(signed_in(request)).filter(number=number))
    if not found:
        msg = f"There is no car {number} for you to see."
        raise Http404(msg)
    shown = found[0].car
    values = stored_values(shown)
    sheets = Sheet.objects.filter(entry__car=shown).select_related(
        "entry__night", "edition__rulebook", "seal"
    )
    return render(
        request,
        "inspection/car.html",
        {
            "car": shown,
            "fitted": FittedPart.objects.filter(
                car=shown, removed_at=None
            ).select_related("part"),
            "geometry": [values[column] for column in COLUMNS if column in values],
            "sheets": Paginator(sheets, SHEETS_A_PAGE).get_page(
                request.GET.get("page")
            ),
            **_answers(found[0]),
        },
    )


def _answers(car: CarNow) -> dict[str, Any]:
    wear = wear_of_car(car)
    return {
        "wear": wear,
        "sizes": _tyre_sizes(car),
        "largest": _largest_gear(car),
        "saved": _saved(car.car),
        **(wear_chart(wear) if wear else {}),
    }


def _tyre_sizes(car: CarNow) -> TyreSizes | None:
    try:
        sizes = legal_tyre_sizes(car.rulebook, car.field)
    except TyresNotMeasuredError:
        return None
    # Without a rule on either side any tyre will do, which says nothing.
    return sizes if (sizes.lowest_rule, sizes.highest_rule) != (None, None) else None


def _largest_gear(car: CarNow) -> Any:
    try:
        return largest_gear(car.envelope)
    except NotMeasuredError:
        return None


def _saved(car: Car) -> list[tuple[SavedJig, str]]:
    return [
        (jig, urlencode(jig.typed | {"car": car.number}))
        for jig in SavedJig.objects.filter(car=car)[:_JIGS]
    ]
