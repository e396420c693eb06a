"""What is on a car: put on, own parts, take off, swap; and from a part to a car."""

from collections.abc import Callable
from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from inspection.access import cars_seen_by
from inspection.actions.fit.on_car import (
    OwnPart,
    may_change_parts,
    put_on,
    put_own_on,
    put_pair_on,
    swap_sides,
    take_off,
)
from inspection.actions.fit.part_sizes import SaidOfPart, say_of_part
from inspection.compute.night import KIND_OF_POSITION, Axle, PartPosition
from inspection.forms.cars.on_car import (
    OntoCarForm,
    OwnPartForm,
    PairOnForm,
    PartSizesForm,
    PutOnForm,
)
from inspection.loaders.cars.on_car import (
    load_places,
    pair_called,
    pairs_for,
    part_called,
    parts_for,
    position_of,
    positions_for,
)
from inspection.models import Car
from inspection.views.cars.addresses import at_its_tag
from inspection.views.cars.garage import car_of
from inventory.access import allow, signed_in
from inventory.compute.numbers import Unit
from inventory.compute.roles import Ability
from inventory.loaders.gauges import load_gauges
from inventory.loaders.pairs import load_sets
from inventory.loaders.parts import facts_text, size_text
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.stock.parts import part_of

ROWS_A_PAGE: Final = 20
#: SQLite matches no pattern that is much longer than anything there is.
LONGEST_SEARCH: Final = 60


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
@at_its_tag
def place(request: HttpRequest, tag: str, place: str) -> HttpResponse:
    """Choose what goes in a place of a car: by tag, scan or search."""
    car, position = _car_to_change(request, tag), _position(place)
    form = PutOnForm(request.POST or None)
    words = typed = ""
    if form.is_valid():
        typed = form.meant or _chosen(request) or form.cleaned_data["part"]
        part = part_called(typed)
        if part is not None:
            with form.refusing():
                put_on(
                    car,
                    part,
                    position,
                    act=act_of(request),
                    since=form.moment,
                    is_meant=form.is_meant,
                )
                return _done(request, car, part.tag, position)
        else:
            words = typed.strip()[:LONGEST_SEARCH]
    parts = parts_for(car, position, signed_in(request), words)
    if words and not parts.exists():
        text = _(
            "“%(typed)s” is the tag of no part, and no %(kind)s that is to be had is "
            "found by it."
        ) % {"typed": words, "kind": KIND_OF_POSITION[position]}
        form.add_error("part", text)
        words = ""
        parts = parts_for(car, position, signed_in(request))
    page = Paginator(parts, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return form_page(
        request,
        form,
        "inspection/cars/place.html",
        {
            "car": car,
            "position": position,
            "place": load_places(car)[position],
            "page": page,
            "rows": [(part, facts_text(part), size_text(part)) for part in page],
            "words": words,
            "typed": typed,
        },
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
@at_its_tag
def own_part(request: HttpRequest, tag: str, place: str) -> HttpResponse:
    """Put a part on a car that is its owner's and not the club's."""
    car, position = _car_to_change(request, tag), _position(place)
    act = act_of(request)
    form = OwnPartForm(
        request.POST or None,
        position=position,
        gauges=load_gauges(act.at, unit=Unit.MILLIMETRE),
    )
    if form.is_valid():
        with form.refusing():
            fitted = put_own_on(
                car,
                OwnPart(new=form.new_part(), sizes=form.typed_sizes),
                position,
                act=act,
                since=form.moment,
                is_meant=form.is_meant,
            )
            return _done(request, car, fitted.part.tag, position)
    return form_page(
        request,
        form,
        "inspection/cars/own_part.html",
        {"car": car, "position": position, "slug": place},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
@at_its_tag
def pair_on(request: HttpRequest, tag: str, axle: str) -> HttpResponse:
    """Choose a pair of tyres for an axle of a car: by tag, scan or search."""
    car, end = _car_to_change(request, tag), _axle(axle)
    form = PairOnForm(request.POST or None)
    words = ""
    if form.is_valid():
        typed = _chosen(request) or form.cleaned_data["pair"]
        pair = pair_called(typed)
        if pair is not None:
            with form.refusing():
                put_pair_on(car, pair, end, act=act_of(request), since=form.moment)
                return _done(request, car, pair.tag, f"{end} axle")
        else:
            words = typed.strip()[:LONGEST_SEARCH]
    pairs = pairs_for(car, signed_in(request), words)
    if words and not pairs.exists():
        text = _(
            "“%(typed)s” is the tag of no pair, and no pair that is to be had is found "
            "by it."
        ) % {"typed": words}
        form.add_error("pair", text)
        words = ""
        pairs = pairs_for(car, signed_in(request))
    page = Paginator(pairs, ROWS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "car": car,
        "axle": end,
        "form": form,
        "page": page,
        "pairs": load_sets(page),
        "words": words,
    }
    return form_page(
        request,
        form,
        "inspection/cars/pair_on.html",
        context,
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
@at_its_tag
def part_sizes(request: HttpRequest, tag: str, place: str) -> HttpResponse:
    """Say what is not known of the part that sits in a place."""
    car, position = _car_to_change(request, tag), _position(place)
    now, act = load_places(car)[position], act_of(request)
    if now.part is None:
        return redirect("inspection:own_part", tag=car.tag, place=place)
    form = PartSizesForm(
        request.POST or None,
        part=now.part,
        gauges=load_gauges(act.at, unit=Unit.MILLIMETRE),
    )
    if form.is_valid():
        statement = SaidOfPart(sizes=form.typed_sizes, facts=form.said_facts())
        with form.refusing():
            part = say_of_part(car, position, statement, act=act)
            messages.success(request, _("Kept with %(tag)s.") % {"tag": part.tag})
            return redirect("inspection:sizes", tag=car.tag)
    sizes = now.part.estimates.current()
    known = {f"size_{one.quantity}": one for one in sizes}
    return form_page(
        request,
        form,
        "inspection/cars/part_sizes.html",
        {
            "car": car,
            "position": position,
            "part": now.part,
            "sizes": [
                (field, unit, known.get(field.name)) for field, unit in form.size_fields
            ],
        },
    )


@require_POST
@allow(Ability.LOOK)
def off(request: HttpRequest, tag: str, place: str) -> HttpResponse:
    """Take a part off a car."""
    position, act = _position(place), act_of(request)
    to_drawer = request.POST.get("to") == "drawer"

    def taken(car: Car) -> str:
        part = take_off(car, position, act=act, to_drawer=to_drawer)
        return _("%(tag)s is off: %(place)s.") % {"tag": part.tag, "place": position}

    return _do(request, tag, taken)


@require_POST
@allow(Ability.LOOK)
def swap(request: HttpRequest, tag: str, axle: str) -> HttpResponse:
    """Swap the two tyres of an axle."""
    end, act = _axle(axle), act_of(request)

    def swapped(car: Car) -> str:
        swap_sides(car, end, act=act)
        return _("The %(axle)s tyres have changed sides.") % {"axle": end}

    return _do(request, tag, swapped)


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def onto_car(request: HttpRequest, tag: str) -> HttpResponse:
    """Put a part on a car, coming from the part: whoever scanned its label."""
    part, person = part_of(request, tag), signed_in(request)
    cars = cars_seen_by(person)
    if not person.may(Ability.FIT_PARTS):
        cars = cars.filter(owner=person)
    form = OntoCarForm(request.POST or None, cars=cars, places=positions_for(part))
    if form.is_valid():
        cleaned = form.cleaned_data
        car, position = cleaned["car"], PartPosition(cleaned["place"])
        with form.refusing():
            put_on(
                car,
                part,
                position,
                act=act_of(request),
                since=form.moment,
                is_meant=form.is_meant,
            )
            return _done(request, car, part.tag, position)
    return form_page(
        request,
        form,
        "inspection/cars/onto_car.html",
        {"part": part, "facts": facts_text(part), "any": cars.exists()},
    )


def _car_to_change(request: HttpRequest, tag: str) -> Car:
    car = car_of(request, tag)
    if not may_change_parts(car, signed_in(request)):
        msg = f"What is on car {tag} is not yours to change."
        raise Http404(msg)
    return car


def _position(place: str) -> PartPosition:
    position = position_of(place)
    if position is None:
        msg = f"“{place}” is no place on a car."
        raise Http404(msg)
    return position


def _axle(axle: str) -> Axle:
    if axle not in list(Axle):
        msg = f"“{axle}” is no axle of a car."
        raise Http404(msg)
    return Axle(axle)


def _do(request: HttpRequest, tag: str, action: Callable[[Car], str]) -> HttpResponse:
    car = _car_to_change(request, tag)
    with refusals_told(request):
        messages.success(request, action(car))
    return redirect("inspection:car", tag=car.tag)


def _done(request: HttpRequest, car: Car, tag: str, where: str) -> HttpResponse:
    sentence = _("%(tag)s is on car %(number)s: %(where)s.")
    messages.success(
        request, sentence % {"tag": tag, "number": car.number, "where": where}
    )
    return redirect("inspection:car", tag=car.tag)


def _chosen(request: HttpRequest) -> str:
    """Give the tag of the button that was pressed; PostgreSQL keeps no NUL."""
    return request.POST.get("chosen", "").replace("\0", "")
