"""Cars: a member's cars, how long each stays legal, and its history."""

from typing import Any, Final
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inspection.access import cars_seen_by, may_keep, sheets_seen_by
from inspection.actions.fit.on_car import may_change_parts
from inspection.compute.fit import NotMeasuredError, largest_gear
from inspection.compute.quantities import COLUMNS
from inspection.compute.what_if import (
    TyreSizes,
    TyresNotMeasuredError,
    legal_tyre_sizes,
)
from inspection.loaders.block.car_words import words_of_car
from inspection.loaders.block.values import stored_values
from inspection.loaders.cars.mine import load_my_cars
from inspection.loaders.cars.on_car import load_places, tyres_by_axle
from inspection.loaders.cars.search import cars_in_turn, cars_of, find_cars
from inspection.loaders.fit.cars import CarNow, load_cars
from inspection.loaders.history.wear import wear_of_car
from inspection.models import Car, EntryMove, SavedJig, Sheet
from inspection.views.cars.addresses import at_its_tag
from inspection.views.cars.wear import wear_chart
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.forms.pick import SearchForm
from inventory.models import Person
from inventory.views.acts import form_page

CARS_A_PAGE: Final = 50
SHEETS_A_PAGE: Final = 30
#: So many of somebody's own cars are judged on one page.
MY_CARS: Final = 12
_JIGS: Final = 5
_MOVES: Final = 12


@require_GET
@allow(Ability.LOOK)
def cars(request: HttpRequest) -> HttpResponse:
    """List the cars that this person may open, tonight's first, page by page."""
    form = SearchForm(request.GET)
    seen = cars_seen_by(signed_in(request))
    listed = cars_in_turn(find_cars(seen, form.words), today=timezone.localdate())
    page = Paginator(listed, CARS_A_PAGE).get_page(request.GET.get("page"))
    return form_page(
        request,
        form,
        "inspection/cars/cars.html",
        {"page": page, "words": form.words},
    )


@require_GET
@allow(Ability.LOOK)
def my_cars(request: HttpRequest) -> HttpResponse:
    """Show one's own cars: legal or not in each class, wear left, what is kept."""
    person = signed_in(request)
    racing = cars_of(person).filter(retired_at=None)
    own = cars_in_turn(racing, today=timezone.localdate())[:MY_CARS]
    return render(
        request,
        "inspection/cars/my_cars.html",
        {"cars": load_my_cars(list(own), person)},
    )


@require_GET
@allow(Ability.LOOK)
@at_its_tag
def car(request: HttpRequest, tag: str) -> HttpResponse:
    """Show one car: how long it stays legal, its parts, geometry and sheets."""
    loaded = load_cars(cars_seen_by(signed_in(request)).filter(tag=tag))
    if not loaded:
        msg = f"There is no car {tag} for you to see."
        raise Http404(msg)
    shown = loaded[0].car
    concerned = shown.concerned
    values = stored_values(shown, concerned)
    words = words_of_car(shown, values)
    sheets = sheets_seen_by(
        signed_in(request), Sheet.objects.filter(entry__car=shown)
    ).select_related("entry__night", "edition__rulebook", "seal", "void")
    return render(
        request,
        "inspection/cars/car.html",
        {
            "car": shown,
            "may_keep": may_keep(signed_in(request), shown),
            **_on_it(shown, signed_in(request)),
            "unconfirmed": [one for one in words.values() if one.is_only_declared],
            "concerned": concerned,
            "geometry": [values[column] for column in COLUMNS if column in values],
            "sheets": Paginator(sheets, SHEETS_A_PAGE).get_page(
                request.GET.get("page")
            ),
            "moves": _moves(shown),
            **_answers(loaded[0]),
        },
    )


def _on_it(car: Car, person: Person) -> dict[str, Any]:
    """Give what sits on a car, place by place."""
    places = load_places(car)
    axles = tyres_by_axle(places)
    tyres = {place.position for axle in axles for place in axle.places}
    return {
        "axles": axles,
        "places": [one for one in places.values() if one.position not in tyres],
        "may_change": may_change_parts(car, person),
        "may_put_away": person.may(Ability.FIT_PARTS),
    }


def _moves(car: Car) -> list[EntryMove]:
    """Give the last moves that have a reason, the newest first."""
    moves = EntryMove.objects.filter(entry__car=car).exclude(reason="")
    moves = moves.select_related("by", "entry__night").order_by("-at", "-id")
    return list(moves[:_MOVES])


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
        (jig, urlencode(jig.typed | {"car": car.tag}))
        for jig in SavedJig.objects.filter(car=car)[:_JIGS]
    ]
