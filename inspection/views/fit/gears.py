"""From the gear to the cars: an unmarked one, and a part of the stock."""

from typing import Any, Final
from urllib.parse import urlencode

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inspection.access import cars_seen_by
from inspection.forms.fit.questions import InHandForm
from inspection.loaders.cars.search import cars_in_turn, find_cars
from inspection.loaders.fit.cars import load_in_order
from inspection.loaders.fit.cars_for_part import (
    CHECKED_KINDS,
    Unmarked,
    cars_taking,
    cars_taking_any,
    identify,
    parts_like,
    table_of_part,
)
from inspection.loaders.fit.stock import Standing
from inspection.loaders.fit.typed import GearInHand
from inspection.models import Car
from inventory.access import allow, signed_in, visitor
from inventory.compute.roles import Ability
from inventory.compute.stock import GearRole
from inventory.forms.pick import SearchForm
from inventory.models import Part, Person
from inventory.views.stock.parts import part_of

#: So many cars are fitted at a time.
CARS_A_PAGE: Final = 20


def unmarked_gear(request: HttpRequest) -> HttpResponse:
    """Say what pitch a gear may have, and which cars take it."""
    is_asked = "teeth" in request.GET
    form = InHandForm(request.GET if is_asked else None)
    context: dict[str, Any] = {"form": form, "person": visitor(request)}
    if not is_asked:
        return render(request, "inspection/fit/unmarked_gear.html", context)
    if not form.is_valid():
        return render(request, "inspection/fit/unmarked_gear.html", context, status=422)
    hand = form.in_hand()
    context |= {"hand": hand, "reading": form.cleaned_data["over"]}
    # A crown's size says nothing of its teeth: its pitch is as it is said.
    unmarked = (
        None
        if hand.role is GearRole.CROWN
        else identify(hand.teeth, hand.outside_diameter_mm, form_u_mm=form.form_u_mm)
    )
    likeliest = hand.pitch or (unmarked.candidates[0].name if unmarked else "")
    context |= {
        "unmarked": unmarked,
        "likeliest": likeliest,
        "typed": _typed(request),
    }
    person = visitor(request)
    if person is not None:
        context |= _for_person(request, person, hand, unmarked)
    return render(request, "inspection/fit/unmarked_gear.html", context)


def _for_person(
    request: HttpRequest, person: Person, hand: GearInHand, unmarked: Unmarked | None
) -> dict[str, Any]:
    if hand.pitch or unmarked is None:
        pitches = [hand.pitch]
    else:
        pitches = [one.name for one in unmarked.worth_trying]
    page = _some_cars(request, cars_seen_by(person))
    cars = load_in_order(page) if pitches else []
    return {
        "page": page,
        "lines": cars_taking_any(hand, pitches, cars),
        "pitches": pitches,
        "alike": parts_like(hand, person),
        "may_reserve": person.may(Ability.RESERVE_PARTS),
        "fits": Standing.FITS,
    }


def _some_cars(request: HttpRequest, cars: QuerySet[Car]) -> Page[Car]:
    """Give a page of cars, tonight's and those of the last year first."""
    in_turn = cars_in_turn(cars, today=timezone.localdate())
    return Paginator(in_turn, CARS_A_PAGE).get_page(request.GET.get("page"))


def _typed(request: HttpRequest) -> str:
    """Give the query that carries the gear to another page."""
    kept = {
        name: request.GET[name]
        for name in InHandForm.base_fields
        if request.GET.get(name) and name != "pitch"
    }
    return urlencode(kept)


@require_GET
@allow(Ability.LOOK)
def cars_for_part(request: HttpRequest, tag: str) -> HttpResponse:
    """Show which of the cars that this person may see take a part, page by page."""
    part: Part = part_of(request, tag)
    if part.kind not in CHECKED_KINDS:
        msg = f"It is not checked which cars take a {part.kind}."
        raise Http404(msg)
    form = SearchForm(request.GET)
    page = _some_cars(request, find_cars(cars_seen_by(signed_in(request)), form.words))
    lines = cars_taking(table_of_part(part), load_in_order(page))
    context = {
        "part": part,
        "form": form,
        "words": form.words,
        "page": page,
        "lines": lines,
        "taking": sum(line.standing is Standing.FITS for line in lines),
        "fitting": [one for one in lines if one.standing is Standing.FITS],
        "open_lines": [one for one in lines if one.standing is Standing.NOT_KNOWN],
        "refused": [one for one in lines if one.standing is Standing.DOES_NOT],
        "is_tyre": part.kind == "tyre",
    }
    name = "pieces/cars_taking" if request.headers.get("HX-Request") else "cars_taking"
    return render(request, f"inspection/fit/{name}.html", context)
