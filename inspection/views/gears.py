"""From the gear to the cars: an unmarked one, and a part of the stock."""

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN, cars_seen_by
from inspection.forms.fit import InHandForm
from inspection.loaders.fit import Standing
from inspection.loaders.fit_cars import load_cars
from inspection.loaders.fit_typed import GearInHand
from inspection.loaders.gears import (
    Unmarked,
    cars_taking,
    cars_taking_any,
    identify,
    parts_like,
    table_of_part,
)
from inventory.access import RESERVERS, allow, signed_in, visitor
from inventory.compute.stock import GearRole
from inventory.models import Part, Person
from inventory.views.parts import part_of


def unmarked_gear(request: HttpRequest) -> HttpResponse:
    """Say what pitch a gear may have, and which cars take it."""
    is_asked = "teeth" in request.GET
    form = InHandForm(request.GET if is_asked else None)
    context: dict[str, Any] = {"form": form, "person": visitor(request)}
    if not is_asked:
        return render(request, "inspection/unmarked_gear.html", context)
    if not form.is_valid():
        return render(request, "inspection/unmarked_gear.html", context, status=422)
    hand = form.in_hand()
    context |= {"hand": hand, "reading": form.cleaned_data["over"]}
    if hand.role is GearRole.CROWN:
        return render(request, "inspection/unmarked_gear.html", context)
    unmarked = identify(hand.teeth, hand.outside_diameter_mm)
    context |= {"unmarked": unmarked, "typed": _typed(request)}
    person = visitor(request)
    if person is not None:
        context |= _for_person(person, hand, unmarked)
    return render(request, "inspection/unmarked_gear.html", context)


def _for_person(person: Person, hand: GearInHand, unmarked: Unmarked) -> dict[str, Any]:
    pitches = [hand.pitch] if hand.pitch else [c.name for c in unmarked.worth_trying]
    cars = load_cars(cars_seen_by(person)) if pitches else []
    return {
        "lines": cars_taking_any(hand, pitches, cars),
        "pitches": pitches,
        "alike": parts_like(hand, person),
        "may_reserve": person.has_role(*RESERVERS),
        "fits": Standing.FITS,
    }


def _typed(request: HttpRequest) -> str:
    """Give the query that carries the gear to another page."""
    kept = {
        name: request.GET[name]
        for name in InHandForm.base_fields
        if request.GET.get(name) and name != "pitch"
    }
    return urlencode(kept)


@require_GET
@allow(ANYONE_SIGNED_IN)
def cars_for_part(request: HttpRequest, tag: str) -> HttpResponse:
    """Show which of the cars that this person may see take a part."""
    part: Part = part_of(tag)
    cars = load_cars(cars_seen_by(signed_in(request)))
    context = {
        "part": part,
        "lines": cars_taking(table_of_part(part), cars),
        "is_tyre": part.kind == "tyre",
    }
    name = "pieces/cars_taking" if request.headers.get("HX-Request") else "cars_taking"
    return render(request, f"inspection/{name}.html", context)
